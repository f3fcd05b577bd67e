"""The light table's working calls: measure, plan, drag, any day of the time axis. Nothing here is saved."""
