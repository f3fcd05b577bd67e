"""Two people changed one case at the same time: the second is shown what differs, and nothing is lost."""

from dataclasses import dataclass
from datetime import datetime

from limbwright.case.case import Case
from limbwright.error import LimbwrightError
from limbwright.quantity import Value
from limbwright.store.difference import Change


@dataclass(frozen=True, slots=True, kw_only=True)
class Version(Value):
    """One version of a case, or of one of the practice's documents."""

    number: int
    """1 for the first."""
    saved_at: datetime
    """When it was saved."""
    who: str
    """Who saved it."""
    why: str
    """Why, in their words."""
    parts: tuple[str, ...] = ()
    """Top keys of the document that differ from the version before; empty for the first."""
    restored_from: int | None = None
    """The older version this one brought back; None for a version of its own."""


class Conflict(LimbwrightError):
    """Somebody else saved in the meantime; nothing was saved, and nothing of either side is lost.

    Parameters
    ----------
    what : str
        The case or document, for the message.
    based_on : int
        The version that my changes were made on.
    current : Version
        The newest version: theirs.
    theirs : tuple of Change
        What they changed since `based_on`.
    mine : tuple of Change
        What I changed since `based_on`.
    both : tuple of Change
        Those of my changes that touch what they changed, differently.
    combined : Case, optional
        The newest version with my changes laid over it; None when both touched the same values or when the
        result would not hold together. It is a proposal: nothing combines by itself.
    """

    def __init__(
        self,
        what: str,
        *,
        based_on: int,
        current: Version,
        theirs: tuple[Change, ...],
        mine: tuple[Change, ...],
        both: tuple[Change, ...],
        combined: Case | None = None,
    ) -> None:
        self.based_on = based_on
        self.current = current
        self.theirs = theirs
        self.mine = mine
        self.both = both
        self.combined = combined
        touched = f"; both changed {_listed(both)}" if both else ""
        step = (
            "Save both sets of changes together, or look at theirs first."
            if combined is not None
            else f"Look at version {current.number}, then keep theirs or save yours on top of it."
        )
        super().__init__(
            f"{current.who} saved version {current.number} while you worked on version {based_on}; they "
            f"changed {_listed(theirs)}{touched}. Your changes were not saved and are still with you.",
            where=what,
            next_step=step,
        )


def _listed(made: tuple[Change, ...], most: int = 3) -> str:
    paths = [change.path for change in made[:most]]
    more = f" and {len(made) - most} more" if len(made) > most else ""
    return (", ".join(paths) or "nothing that differs") + more
