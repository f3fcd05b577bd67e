"""Room `film`."""
