"""Difference in length between two legs: in total, by bone, at the foot, and at the level of the knees."""

import math
from dataclasses import dataclass, replace

from limbwright.error import Contradiction
from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Side
from limbwright.limb.formula import FEMUR_AXIS, TIBIA_AXIS
from limbwright.limb.limit import limit, limit_row
from limbwright.limb.lines import distance_mm, point_of
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure, NotMeasured, Readings
from limbwright.limb.uncertainty import measured
from limbwright.limb.view import View
from limbwright.quantity import LONGER_SHORTER, Directed, Measured, Value, directed

_ADULT_YEARS = 20.0  # lengths have no norm, so the age given to `readings` does not matter here


@dataclass(frozen=True, slots=True, kw_only=True)
class Discrepancy(Value):
    """How much longer (+) or shorter (-) one leg is than the other [mm]."""

    side: Side
    """The leg that is compared with the other one."""
    total: Measured | None
    """Hip to ankle, plus foot when that was given."""
    femur: Measured | None
    """Part of the femur."""
    tibia: Measured | None
    """Part of the tibia."""
    foot: Measured | None
    """Part of the foot; absent when nobody measured it, and then not in `total`."""
    rest: Measured | None
    """What is left of the total: bending at the knee and joint space."""
    knee_height: Measured | None
    """Height of the knee above the floor (above the ankle without foot height), against the other knee."""
    same_film: bool
    """Both legs on one film, so that an error of its scale falls out of the difference."""
    not_measured: tuple[NotMeasured, ...]
    """What could not be compared, with reasons."""
    findings: tuple[Finding, ...]
    """A block test that disagrees."""

    def shown(self) -> Directed | None:
        """The total as it leaves the package."""
        return None if self.total is None else directed(self.total.value, unit="mm", senses=LONGER_SHORTER)


def discrepancy(
    leg: View,
    other: View,
    *,
    foot_difference_mm: float | None = None,
    block_test_mm: float | None = None,
) -> Discrepancy:
    """Length of a leg against the other one.

    Parameters
    ----------
    leg, other : View
        Frontal views of both legs.
    foot_difference_mm : float, optional
        Height of the ankle above the floor against the other foot, higher +. [mm]
    block_test_mm : float, optional
        Discrepancy found by levelling the pelvis on blocks, in the same sense: leg shorter than the other
        is negative. [mm]

    Raises
    ------
    Contradiction
        If both views are of the same side.

    Notes
    -----
    On one film the relative error r of the scale is common, so it adds r·|difference|, not r·length. On
    two films it adds r·length of each.
    """
    if leg.side is other.side:
        raise Contradiction(
            f"both views are of the {leg.side} leg.",
            where="discrepancy",
            next_step="Give one view of each leg.",
        )
    mine, theirs = (
        readings(replace(view, scale_relative_sd=0.0), age_years=_ADULT_YEARS) for view in (leg, other)
    )
    same_film = _patches(leg) == _patches(other)
    parts = {
        measure: _difference(measure, mine, theirs, leg, other, same_film=same_film)
        for measure in (
            Measure.LEG_LENGTH,
            Measure.FEMUR_LENGTH,
            Measure.TIBIA_LENGTH,
            Measure.KNEE_HEIGHT,
        )
    }
    foot = (
        None
        if foot_difference_mm is None
        else Measured(
            value=foot_difference_mm, sd=limit("standard uncertainty of a foot height difference"), unit="mm"
        )
    )
    total = _sum(parts[Measure.LEG_LENGTH], foot)
    return Discrepancy(
        side=leg.side,
        total=total,
        femur=parts[Measure.FEMUR_LENGTH],
        tibia=parts[Measure.TIBIA_LENGTH],
        foot=foot,
        rest=_rest(leg, other),
        knee_height=_sum(parts[Measure.KNEE_HEIGHT], foot),
        same_film=same_film,
        not_measured=tuple(n for result in (mine, theirs) for n in result.not_measured if n.measure in parts),
        findings=() if block_test_mm is None or total is None else _block_test(total, block_test_mm),
    )


def _patches(view: View) -> frozenset[str]:
    return frozenset(spot.patch for spot in view.spots.values())


def _difference(
    measure: Measure, mine: Readings, theirs: Readings, leg: View, other: View, *, same_film: bool
) -> Measured | None:
    a, b = mine.get(measure), theirs.get(measure)
    if a is None or b is None:
        return None
    value = a.value.value - b.value.value
    scale = (
        leg.scale_relative_sd * value
        if same_film
        else math.hypot(leg.scale_relative_sd * a.value.value, other.scale_relative_sd * b.value.value)
    )
    return Measured(value=value, sd=math.hypot(a.value.sd, b.value.sd, scale), unit="mm")


def _rest(leg: View, other: View) -> Measured | None:
    """What bending and joint space take from or add to hip-ankle distance, on one leg against the other."""
    marks = (*FEMUR_AXIS, *TIBIA_AXIS)
    if not all(v.scaled and v.has(*marks) and v.in_one_frame(*marks) for v in (leg, other)):
        return None

    def beyond_the_bones_mm(view: View) -> float:
        hip, femur_knee, tibia_knee, ankle = (point_of(view, mark) for mark in marks)
        return distance_mm(hip, ankle) - distance_mm(hip, femur_knee) - distance_mm(tibia_knee, ankle)

    a, b = (measured(view, beyond_the_bones_mm, unit="mm", landmarks=marks) for view in (leg, other))
    return Measured(value=a.value - b.value, sd=math.hypot(a.sd, b.sd), unit="mm")


def _sum(part: Measured | None, foot: Measured | None) -> Measured | None:
    if part is None or foot is None:
        return part
    return Measured(value=part.value + foot.value, sd=math.hypot(part.sd, foot.sd), unit="mm")


def _block_test(total: Measured, block_test_mm: float) -> tuple[Finding, ...]:
    row = limit_row("standard uncertainty of a block test")
    allowed = 1.96 * math.hypot(total.sd, row.number("value"))
    gap = block_test_mm - total.value
    if abs(gap) <= allowed:
        return ()
    block, film = (
        directed(value, unit="mm", senses=LONGER_SHORTER) for value in (block_test_mm, total.value)
    )
    return (
        Finding(
            id="block-test-disagrees",
            severity=Severity.CAUTION,
            words=(
                f"The block test says {block.magnitude:.0f} mm {block.direction}, the film "
                f"{film.magnitude:.0f} mm {film.direction}: {abs(gap):.0f} mm apart, where their "
                f"uncertainties explain {allowed:.0f} mm."
            ),
            next_step=(
                "Look for a foot height difference, a fixed pelvis, a contracture of hip, knee or ankle, or "
                "a wrong scale."
            ),
            numbers=(
                Number(name="difference", value=gap, unit="mm"),
                Number(name="explained by uncertainty", value=allowed, unit="mm"),
            ),
            rule="Block test and film agree within 1.96 times their joint standard uncertainty.",
            source=row.source,
        ),
    )
