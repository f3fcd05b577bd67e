"""One candidate of the search, worked out exactly, and what it buys and costs against another."""

from dataclasses import dataclass

from limbwright.limb.anatomy import Bone
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import BonePlan
from limbwright.plan.drift import Drift
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts(Value):
    """Parts of the objective, kept apart; less is better in each."""

    drift_deg: float
    """Angulation forecast at full length, planes alone put together, with the candidate's screws [deg]."""
    drift_without_screws_deg: float
    """The same without them [deg]."""
    length_off_mm: float
    """Length gained beside the goal [mm]."""
    overlap_short_mm: float
    """What is missing from a reserve of 20 mm of overlap beyond the practice's rule [mm]."""
    level_cost_mm: float
    """Distance from the apex and from good bone, as the distance it is worth [mm]."""
    shift_mm: float
    """Sideways shift of the bone ends [mm]."""
    reamed_mm: float
    """Most bone reamed away on one side [mm]."""
    screws: int
    """Blocking screws."""

    def array(self) -> tuple[float, ...]:
        """All parts in order, without the drift of the bare nail."""
        return (
            self.drift_deg,
            self.length_off_mm,
            self.overlap_short_mm,
            self.level_cost_mm,
            self.shift_mm,
            self.reamed_mm,
            float(self.screws),
        )


_NAMES = (
    ("less drift", "more drift", "deg", 0.2),
    ("nearer to the wanted length", "farther from the wanted length", "mm", 1.0),
    ("more reserve of overlap", "less reserve of overlap", "mm", 3.0),
    ("nearer to apex and good bone", "farther from apex and good bone", "mm", 4.0),
    ("less shift of the bone ends", "more shift of the bone ends", "mm", 0.5),
    ("less bone reamed on one side", "more bone reamed on one side", "mm", 0.2),
    ("fewer blocking screw(s)", "more blocking screw(s)", "", 1.0),
)
"""Words for a part that is less and for one that is more, unit, and the least difference worth a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCandidate(Value):
    """One plan of the non-dominated set."""

    bone: Bone
    """Bone."""
    plan: BonePlan
    """The plan, without fibula and pins."""
    canals: tuple[CanalAlong, ...]
    """Traced canals along its nail."""
    lateral_mm: float
    """Offset of the nail's line from the best fit, lateral + [mm]."""
    anterior_mm: float
    """The same, anterior + [mm]."""
    parts: Parts
    """Parts of the objective."""
    drift: Drift | None
    """Drift of each plane at full length, planes alone [deg]; None without a number."""
    probability: float | None
    """Probability of ending inside all tolerances; None where it was not asked."""
    words: str
    """What it buys and what it costs against the first candidate."""


def compared(candidate: Parts, first: Parts) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What a candidate buys and what it costs against the first, as phrases."""
    buys: list[str] = []
    costs: list[str] = []
    for (less, more, unit, least), mine, other in zip(_NAMES, candidate.array(), first.array(), strict=True):
        change = mine - other
        if abs(change) < least:
            continue
        size = f"{abs(change):.1f} {unit}" if unit else f"{abs(change):.0f}"
        (buys if change < 0 else costs).append(f"{size} {less if change < 0 else more}")
    return tuple(buys), tuple(costs)


def sentence(candidate: Parts, first: Parts) -> str:
    """What a candidate buys and costs against the first, in one sentence."""
    buys, costs = compared(candidate, first)
    said = [f"buys {', '.join(buys)}"] if buys else []
    said += [f"costs {', '.join(costs)}"] if costs else []
    text = "; ".join(said) or "much the same as the first"
    return f"{text[0].upper()}{text[1:]}."


def described(parts: Parts) -> str:
    """The first candidate in one sentence."""
    screws = f"{parts.screws} blocking screw{'' if parts.screws == 1 else 's'}"
    return (
        f"Drift {parts.drift_deg:.1f} deg with {screws} ({parts.drift_without_screws_deg:.1f} without any), "
        f"{parts.shift_mm:.1f} mm shift of the bone ends, {parts.reamed_mm:.1f} mm reamed on one side."
    )
