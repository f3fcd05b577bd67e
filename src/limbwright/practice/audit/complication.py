"""How often treated bones had problems, obstacles and complications."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from limbwright.practice.audit.columns import BONES, AuditColumns, Floats
from limbwright.practice.audit.group import Group
from limbwright.practice.audit.proportion import METHOD, Proportion, proportion
from limbwright.practice.audit.sample import TooFew
from limbwright.quantity import Value


class Event(StrEnum):
    """Classes of Paley, Clin Orthop Relat Res 1990, 250:81-104 (definitions from memory)."""

    PROBLEM = "problem"
    OBSTACLE = "obstacle"
    MINOR = "minor complication"
    MAJOR = "major complication"
    ANY_COMPLICATION = "any complication"


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplicationRate(Value):
    """Share of treated bones with at least one event of a class."""

    event: Event
    """Class of the event."""
    group: Group
    """Which bones."""
    n: int
    """Bones for which it was recorded whether they had one."""
    cases: tuple[str, ...]
    """Their cases."""
    cases_with: tuple[str, ...]
    """Cases of the bones that had one."""
    events: int
    """Events altogether; a bone may have several."""
    rate: Proportion | TooFew
    """Share of bones with at least one."""
    method: str
    """How it was computed."""


def event_counts(columns: AuditColumns, event: Event) -> Floats:
    """Events of a class in each bone, NaN where it was not recorded, (n,)."""
    return {
        Event.PROBLEM: columns.problems,
        Event.OBSTACLE: columns.obstacles,
        Event.MINOR: columns.minor_complications,
        Event.MAJOR: columns.major_complications,
        Event.ANY_COMPLICATION: columns.minor_complications + columns.major_complications,
    }[event]


def complication_rates(
    columns: AuditColumns, *, min_n: int, confidence: float
) -> tuple[ComplicationRate, ...]:
    """Share of bones with at least one event of each class, for all bones together and for each bone."""
    found = []
    for event in Event:
        counts = event_counts(columns, event)
        known = ~np.isnan(counts)
        for bone in ("", *BONES):
            rows = np.flatnonzero(known & (columns.bone == bone) if bone else known)
            having = rows[counts[rows] > 0]
            n = len(rows)
            found.append(
                ComplicationRate(
                    event=event,
                    group=Group(bone=bone),
                    n=n,
                    cases=columns.cases(rows),
                    cases_with=columns.cases(having),
                    events=int(counts[rows].sum()),
                    rate=proportion(len(having), n, confidence=confidence)
                    if n >= min_n
                    else TooFew(n=n, needed=min_n, of=f"{event}, {Group(bone=bone).words}"),
                    method=f"Bones with at least one {event} out of those where it was recorded. {METHOD}",
                )
            )
    return tuple(found)
