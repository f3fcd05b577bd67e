"""Assisted reading in the browser: rough clicks in, what the film shows out. Nothing here is saved."""
