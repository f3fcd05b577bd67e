"""Room `growth`."""
