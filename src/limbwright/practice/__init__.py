"""Room `practice`."""
