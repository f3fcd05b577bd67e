"""Every error leaves the server in one shape: code, found, where, unit, next; pages say the same in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from limbwright.case.problem import Problem, UnreadableCase
from limbwright.error import LimbwrightError, Unreadable

SHOWN_PROBLEMS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What is told about one error."""

    status: int
    code: str
    found: str
    where: str = ""
    unit: str = ""
    next_step: str = ""
    problems: tuple[Problem, ...] = ()
    extra: Mapping[str, Any] | None = None

    def plain(self) -> dict[str, Any]:
        """The error as JSON."""
        return {
            "code": self.code,
            "found": self.found,
            "where": self.where,
            "unit": self.unit,
            "next": self.next_step,
            "problems": [
                {"path": p.path, "value": p.value, "found": p.found, "next": p.next_step}
                for p in self.problems[:SHOWN_PROBLEMS]
            ],
            "differs": [],
            **(self.extra or {}),
        }


class Failure(Exception):
    """An answer other than the one asked for; carried to the one place that writes errors."""

    def __init__(
        self,
        status: int,
        code: str,
        found: str,
        *,
        where: str = "",
        unit: str = "",
        next_step: str = "",
        problems: tuple[Problem, ...] = (),
        extra: Mapping[str, Any] | None = None,
    ) -> None:
        self.trouble = Trouble(
            status=status,
            code=code,
            found=found,
            where=where,
            unit=unit,
            next_step=next_step,
            problems=problems,
            extra=extra,
        )
        super().__init__(found)


def not_found(what: str, where: str, next_step: str) -> Failure:
    """Something that is not there."""
    return Failure(404, "not-found", what, where=where, next_step=next_step)


def refused(error: LimbwrightError) -> Trouble:
    """A refusal of the package as an error of the server."""
    problems = error.problems if isinstance(error, UnreadableCase) else ()
    return Trouble(
        status=422,
        code="unreadable" if isinstance(error, Unreadable) else "refused",
        found=error.found,
        where=error.where,
        next_step=error.next_step,
        problems=problems,
    )


def said(error: LimbwrightError) -> dict[str, str]:
    """A refusal inside an answer that has other parts."""
    return {"found": error.found, "where": error.where, "unit": "", "next": error.next_step}
