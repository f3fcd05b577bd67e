"""Room `course`."""
