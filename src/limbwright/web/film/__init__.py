"""Films for the screen: decoded once, shrunk by halves, cut into tiles."""
