"""Rules of steering, one or a few to a file; each says what it found as findings, never as an order."""
