"""Whether the frontal and the sagittal film of one leg tell the same heights, as one leg must."""

import math

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.leg import JOINT_CENTRES, LegModel
from limbwright.published import Source, Status

COVERAGE = 1.96  # two-sided 95 % interval of a normal distribution
PROPAGATED = Source(text="scale and marking uncertainty, carried on linearly", status=Status.DERIVED)


def films_disagree(leg: LegModel) -> tuple[Finding, ...]:
    """Bones whose height differs between the films by more than scale and marking explain, if any.

    Notes
    -----
    Height is the distance between a bone's joint centres along the film's vertical, which both films share.
    The difference is compared with 1.96 times its standard uncertainty.
    """
    found = []
    for bone, centres in JOINT_CENTRES.items():
        marked = all(c in leg.frontal and c in leg.sagittal for c in centres)
        if not marked or leg.sagittal_scale_sd is None:
            continue
        heights, variance = [], 0.0
        for points, scale_sd in ((leg.frontal, leg.frontal_scale_sd), (leg.sagittal, leg.sagittal_scale_sd)):
            upper, lower = (points[c] for c in centres)
            height = upper.proximal_mm - lower.proximal_mm
            heights.append(height)
            variance += upper.sd_mm**2 + lower.sd_mm**2 + (height * scale_sd) ** 2
        explained = COVERAGE * math.sqrt(variance)
        apart = heights[0] - heights[1]
        if abs(apart) <= explained:
            continue
        found.append(_finding(leg, bone, heights[0], heights[1], explained))
    return tuple(found)


def _finding(leg: LegModel, bone: Bone, frontal: float, sagittal: float, explained: float) -> Finding:
    return Finding(
        id="films-disagree-on-height",
        severity=Severity.CAUTION,
        words=f"The {leg.side} {bone} is {frontal:.1f} mm high on the frontal film and {sagittal:.1f} mm on "
        "the "
        f"sagittal one; scale and marking explain {explained:.1f} mm.",
        next_step="Check the scale of both films and the joint centres, and whether the leg was flexed or "
        "tilted "
        "on one of them.",
        numbers=(
            Number(name="frontal height", value=frontal, unit="mm"),
            Number(name="sagittal height", value=sagittal, unit="mm"),
            Number(name="explained by uncertainty", value=explained, unit="mm"),
        ),
        rule="Both films of one leg show the same heights within 1.96 times their joint standard "
        "uncertainty.",
        source=PROPAGATED,
    )
