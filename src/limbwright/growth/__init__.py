"""Room `growth`: growth left, discrepancy at maturity, and whether a nail may cross a physis."""
