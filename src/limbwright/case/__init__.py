"""Room `case`."""
