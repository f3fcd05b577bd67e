"""The one error family. Every message says what was found, where, in which unit, and what to do next.

```text
LimbwrightError (ValueError)
├── OutOfRange      a number that cannot be true, or that a computation was not made for
├── Missing         something a computation needs was not given
├── Contradiction   two things that were given cannot both be true
├── Unreadable      a file or document that cannot be read, or is too large or too deep to read safely
└── Refused         the input is sound, but answering would be a guess
```
"""


class LimbwrightError(ValueError):
    """Something the user can mend; never raised for a mistake of ours.

    Parameters
    ----------
    found : str
        What was found, with its number and unit.
    where : str
        The film, landmark, setting or JSON path it was found in.
    next_step : str
        What the user should do now.
    """

    def __init__(self, found: str, *, where: str, next_step: str) -> None:
        self.found = found
        self.where = where
        self.next_step = next_step
        super().__init__(f"{where}: {found} {next_step}" if where else f"{found} {next_step}")


class OutOfRange(LimbwrightError):
    """A number that cannot be true, or that a computation was not made for."""


class Missing(LimbwrightError):
    """Something a computation needs was not given."""


class Contradiction(LimbwrightError):
    """Two things that were given cannot both be true."""


class Unreadable(LimbwrightError):
    """A file or document that cannot be read, or is too large or too deep to read safely."""


class Refused(LimbwrightError):
    """The input is sound, but an answer would be a guess."""
