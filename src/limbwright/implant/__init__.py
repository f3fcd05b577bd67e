"""Room `implant`."""
