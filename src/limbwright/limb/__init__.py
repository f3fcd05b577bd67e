"""Room `limb`."""
