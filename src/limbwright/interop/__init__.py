"""Room `interop`: what leaves the program and comes back: one file for each format."""
