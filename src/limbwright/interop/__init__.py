"""Room `interop`."""
