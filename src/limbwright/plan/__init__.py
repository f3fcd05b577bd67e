"""Room `plan`."""
