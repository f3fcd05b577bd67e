"""What is wrong with a case file, value by value, and the one error that carries it all."""

from dataclasses import dataclass

from limbwright.error import Unreadable
from limbwright.quantity import Value

LISTED = 20  # problems written out in the message
CARRIED = 1000  # problems carried by the error; whoever mended that many reads the file again


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem(Value):
    """One value of a case that cannot stand, and how to mend it."""

    path: str
    """Where it is, as a JSON path: $.films[1].right.femoral_head_centre.x_px."""
    value: str
    """The value as it stands in the file, shortened; empty when it is not there."""
    found: str
    """What is wrong with it, and what was expected, with units."""
    next_step: str
    """How to mend it."""

    @property
    def quoted(self) -> str:
        """The value as it follows its path in a message; empty when it is not there."""
        return f" = {self.value}" if self.value else ""

    def __str__(self) -> str:
        return f"{self.path}{self.quoted}: {self.found} {self.next_step}"


class UnreadableCase(Unreadable):
    """A case that was refused, with every problem that was found.

    Parameters
    ----------
    problems : tuple of Problem
        What is wrong, in the order of the file; never empty, at most `CARRIED`.
    where : str
        Name of the file or of the case.
    total : int, optional
        How many problems there are, when more were found than are carried.
    """

    def __init__(
        self, problems: tuple[Problem, ...], *, where: str = "case file", total: int | None = None
    ) -> None:
        self.problems = problems
        self.total = len(problems) if total is None else total
        first = problems[0]
        if self.total == 1:
            found = f"{first.path}{first.quoted}: {first.found}"
            super().__init__(found, where=where, next_step=first.next_step)
            return
        super().__init__(
            f"{self.total} problems.",
            where=where,
            next_step="Mend them in the file and read it again; nothing was changed.",
        )
        lines = [f"  {problem}" for problem in problems[:LISTED]]
        more = [f"  and {self.total - LISTED} more"] if self.total > LISTED else []
        self.args = ("\n".join([f"{where}: {self.found}", *lines, *more, self.next_step]),)
