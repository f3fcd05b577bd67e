"""Room `web`: the workbench, served on loopback. Pages, working calls, uploads, film tiles."""
