"""One candidate of the search, worked out exactly, and what it buys and costs against the plan in force."""

from dataclasses import dataclass

import numpy as np

from limbwright.limb.anatomy import Bone
from limbwright.plan.bone_task import PlannedBone
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import BonePlan
from limbwright.plan.drift import Drift
from limbwright.plan.search.line import LineChange
from limbwright.quantity import Value

USUAL_WIDTH_MM = 25.0  # of a bone whose outer edges are not traced
NO_NUMBER_DEG = 90.0  # angle left at the end where the model has no number for the drift


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts(Value):
    """Parts of the objective, kept apart; less is better in each. Of two bones the worse one counts, of
    screws and levels both.
    """

    end_off_deg: float
    """Angle left at full length beside the aim, forecast drift included [deg]."""
    start_off_deg: float
    """Angle beside the aim once corrected, before any drift: what is turned against a forecast [deg]."""
    mad_off_mm: float
    """Mechanical axis deviation of the leg at full length beside its target, drift included [mm]."""
    length_off_mm: float
    """Length gained beside the goal [mm]."""
    overlap_short_mm: float
    """What is missing from a reserve of 20 mm of overlap beyond the practice's rule [mm]."""
    level_cost_mm: float
    """Distance from the apex and from good bone, as the distance it is worth [mm]."""
    shift_mm: float
    """Shift of the bone ends against each other once corrected [mm]."""
    contact_lost_percent: float | None
    """Share of the cut faces that is not in contact then; None where the outer edges are not traced [%]."""
    reamed_mm: float
    """Most bone reamed away on one side [mm]."""
    screws: int
    """Blocking screws."""
    outside_percent: float = 0.0
    """Draws that end outside a tolerance; 0 while nothing was drawn [%]."""

    def _contact(self) -> float:
        """Contact lost, or what the shift would lose of a bone of usual width, for comparison only. [%]"""
        if self.contact_lost_percent is not None:
            return self.contact_lost_percent
        return min(100 * self.shift_mm / USUAL_WIDTH_MM, 100.0)

    def array(self) -> tuple[float, ...]:
        """All parts in order; less is better in each."""
        return (
            self.end_off_deg,
            self.start_off_deg,
            self.mad_off_mm,
            self.length_off_mm,
            self.overlap_short_mm,
            self.level_cost_mm,
            self._contact(),
            self.reamed_mm,
            float(self.screws),
            self.outside_percent,
        )


SCALES = np.array([0.4, 1.0, 2.0, 2.0, 5.0, 8.0, 5.0, 0.5, 1.0, 8.0])
"""What counts as clearly different in each part."""

_Name = tuple[str, str, str, float]
_NAMES: tuple[_Name, ...] = (
    ("nearer to the wanted angle at full length", "farther from the wanted angle at full length", "deg", 0.2),
    ("less turned beyond the aim", "more turned beyond the aim", "deg", 0.4),
    ("nearer to the wanted mechanical axis", "farther from the wanted mechanical axis", "mm", 1.0),
    ("nearer to the wanted length", "farther from the wanted length", "mm", 1.0),
    ("more reserve of overlap", "less reserve of overlap", "mm", 3.0),
    ("nearer to apex and good bone", "farther from apex and good bone", "mm", 4.0),
    ("more of the bone ends in contact", "less of the bone ends in contact", "%", 3.0),
    ("less bone reamed on one side", "more bone reamed on one side", "mm", 0.2),
    ("blocking screw(s) fewer", "blocking screw(s) more", "", 1.0),
    ("of 100 draws more inside all tolerances", "of 100 draws fewer inside all tolerances", "", 3.0),
)
"""Words for a part that is less and for one that is more, unit, and the least difference worth a word."""
_CONTACT = 6
_SHIFT: _Name = ("less shift of the bone ends", "more shift of the bone ends", "mm", 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneCandidate(Value):
    """One plan of one bone, worked out exactly."""

    bone: Bone
    """Bone."""
    level_mm: float
    """Level that was asked for, below the proximal joint along the bone [mm]."""
    line: LineChange
    """The nail's line against the best fit."""
    proposed: PlannedBone
    """The plan without fibula and pins, and what it was weighed by."""
    plan: BonePlan
    """The plan, with the candidate's blocking screws."""
    canals: tuple[CanalAlong, ...]
    """Traced canals along its nail."""
    turn_off: Drift
    """Turn of the distal fragment beyond the aim, without drift [deg]."""
    drift: Drift | None
    """Drift of each plane at full length; None without a number [deg]."""
    overlap_mm: float
    """Thick part in the moving fragment at full length [mm]."""
    parts: Parts
    """Parts of the objective, of this bone alone; those of the leg are in the leg's candidate."""

    @property
    def start_off_deg(self) -> float:
        """Angle beside the aim once corrected, both planes put together. [deg]"""
        return float(np.hypot(self.turn_off.varus_deg, self.turn_off.procurvatum_deg))

    @property
    def end_off_deg(self) -> float:
        """Angle left at full length beside the aim, both planes put together. [deg]"""
        if self.drift is None:
            return NO_NUMBER_DEG
        return float(
            np.hypot(
                self.turn_off.varus_deg + self.drift.varus_deg,
                self.turn_off.procurvatum_deg + self.drift.procurvatum_deg,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LegCandidate(Value):
    """One plan of the leg: one candidate for each bone that is lengthened."""

    bones: tuple[BoneCandidate, ...]
    """From proximal to distal."""
    parts: Parts
    """Parts of the objective, of the leg."""
    buys: tuple[str, ...]
    """What it buys against the plan in force."""
    costs: tuple[str, ...]
    """What it costs."""
    words: str
    """Both in one sentence."""


def compared(candidate: Parts, other: Parts) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What a candidate buys and what it costs against another, as phrases."""
    buys: list[str] = []
    costs: list[str] = []
    rows = list(zip(_NAMES, candidate.array(), other.array(), strict=True))
    if None in (candidate.contact_lost_percent, other.contact_lost_percent):
        rows[_CONTACT] = (_SHIFT, candidate.shift_mm, other.shift_mm)
    for (less, more, unit, least), mine, theirs in rows:
        change = mine - theirs
        if abs(change) < least:
            continue
        words = less if change < 0 else more
        size = f"{abs(change):.1f} {unit}" if unit in ("deg", "mm") else f"{abs(change):.0f} {unit}".rstrip()
        said = f"{size} {words}".replace("screw(s)", "screw" if round(abs(change)) == 1 else "screws")
        (buys if change < 0 else costs).append(said)
    return tuple(buys), tuple(costs)


def sentence(buys: tuple[str, ...], costs: tuple[str, ...]) -> str:
    """What a candidate buys and costs, in one sentence."""
    said = [f"buys {', '.join(buys)}"] if buys else []
    said += [f"costs {', '.join(costs)}"] if costs else []
    text = "; ".join(said) or "much the same as the plan"
    return f"{text[0].upper()}{text[1:]}."


def described(parts: Parts) -> str:
    """A plan by itself in one sentence."""
    screws = f"{parts.screws} blocking screw{'' if parts.screws == 1 else 's'}"
    if parts.end_off_deg >= NO_NUMBER_DEG:
        end = "No number for the drift"
    else:
        end = f"Ends {parts.end_off_deg:.1f} deg beside the wanted angle with the forecast drift"
    lost = parts.contact_lost_percent
    ends = (
        f"bone ends shifted by {parts.shift_mm:.1f} mm"
        if lost is None
        else f"{100 - lost:.0f} % of the bone ends in contact"
    )
    return (
        f"{end}, {parts.mad_off_mm:.0f} mm beside the wanted mechanical axis, with {screws}; {ends}, "
        f"{parts.reamed_mm:.1f} mm reamed on one side."
    )
