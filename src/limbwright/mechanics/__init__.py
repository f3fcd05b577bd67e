"""Room `mechanics`."""
