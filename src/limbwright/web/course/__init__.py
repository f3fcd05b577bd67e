"""After the operation: what the course page asks for and what it is told."""
