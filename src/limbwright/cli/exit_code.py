"""What the command leaves with."""

REFUSED = 3
"""The input was refused; the message says what, where and what to do."""
STOP = 4
"""The work was done, but it carries a `stop` finding."""
