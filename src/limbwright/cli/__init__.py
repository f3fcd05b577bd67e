"""Room `cli`."""
