"""What was really done in theatre: steps, levels, nail, screws; the course begins on its day."""

import re
from dataclasses import dataclass
from datetime import date

from limbwright.error import Contradiction, OutOfRange
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border
from limbwright.quantity import Value, require_within

LONGEST_TEXT = 2000
MOST_STEPS, MOST_SCREWS = 200, 20
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
_NEXT = "Correct it, or leave it out where it was not recorded."


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneStep(Value):
    """One step of the checklist as it was done."""

    index: int
    """Its place in the plan's list of steps, from 0."""
    words: str = ""
    """The step as it was listed."""
    done: bool = False
    """Whether it was done."""
    at: str | None = None
    """Time of day, HH:MM."""
    note: str = ""
    """Remark; no names of persons."""

    def __post_init__(self) -> None:
        require_within("index", self.index, 0, 500, "th step", next_step=_NEXT)
        if self.at is not None and not _CLOCK.fullmatch(self.at):
            raise OutOfRange(f"{self.at[:20]!r} is no time of day.", where="at", next_step="Give HH:MM.")
        _require_short(words=self.words, note=self.note)


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneScrew(Value):
    """A blocking screw as it was placed."""

    fragment: Fragment
    """Fragment it is in."""
    side: Border
    """Side of the nail it lies on."""
    from_osteotomy_mm: float
    """Distance from the osteotomy along the bone [mm]."""
    diameter_mm: float
    """Diameter [mm]."""

    def __post_init__(self) -> None:
        require_within("from_osteotomy_mm", self.from_osteotomy_mm, 0, 500, "mm", next_step=_NEXT)
        require_within("diameter_mm", self.diameter_mm, 1, 10, "mm", next_step=_NEXT)


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneBone(Value):
    """One bone as it was operated on; what is absent was not recorded."""

    bone: Bone
    """Femur or tibia."""
    osteotomy_below_joint_mm: float | None = None
    """Osteotomy below the bone's proximal joint line (femur: head centre) [mm]."""
    nail: str | None = None
    """Name of the nail."""
    lengthening_mm: float | None = None
    """Length that is to be gained after all [mm]."""
    blocking_screws: tuple[DoneScrew, ...] | None = None
    """Blocking screws as they were placed; empty when none was."""
    fibula_osteotomy_above_ankle_mm: float | None = None
    """Fibular osteotomy above the tip of the lateral malleolus [mm]."""
    note: str = ""
    """Remark; no names of persons."""

    def __post_init__(self) -> None:
        for name, value, most in (
            ("osteotomy_below_joint_mm", self.osteotomy_below_joint_mm, 700),
            ("lengthening_mm", self.lengthening_mm, 150),
            ("fibula_osteotomy_above_ankle_mm", self.fibula_osteotomy_above_ankle_mm, 500),
        ):
            if value is not None:
                require_within(name, value, 0, most, "mm", next_step=_NEXT)
        if len(self.blocking_screws or ()) > MOST_SCREWS:
            raise OutOfRange(
                f"{len(self.blocking_screws or ())} blocking screws, expected at most {MOST_SCREWS}.",
                where="blocking_screws",
                next_step=_NEXT,
            )
        _require_short(nail=self.nail or "", note=self.note)


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationRecord(Value):
    """What was really done in theatre."""

    operated_on: date | None = None
    """Day of the operation."""
    steps: tuple[DoneStep, ...] = ()
    """Steps of the checklist."""
    bones: tuple[DoneBone, ...] = ()
    """Bones that were operated on."""
    note: str = ""
    """Remark; no names of persons."""

    def __post_init__(self) -> None:
        if len(self.steps) > MOST_STEPS:
            raise OutOfRange(
                f"{len(self.steps)} steps, expected at most {MOST_STEPS}.", where="steps", next_step=_NEXT
            )
        names = [done.bone for done in self.bones]
        if len(set(names)) < len(names):
            raise Contradiction(
                f"one bone is recorded twice ({', '.join(names)}).",
                where="bones",
                next_step="Keep one record for each bone.",
            )
        _require_short(note=self.note)

    def of(self, bone: Bone) -> DoneBone | None:
        """One bone as it was operated on; None when nothing was recorded of it."""
        return next((done for done in self.bones if done.bone is bone), None)


def _require_short(**texts: str) -> None:
    for name, text in texts.items():
        if len(text) > LONGEST_TEXT:
            raise OutOfRange(
                f"{len(text)} characters, expected at most {LONGEST_TEXT}.",
                where=name,
                next_step="Shorten it.",
            )
