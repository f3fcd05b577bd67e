"""New bone in a distraction gap on one film: density against the bone beside it, width, shape, length."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from limbwright.error import Refused
from limbwright.film.new_bone.field import STEP_MM, GapField, gap_field
from limbwright.film.new_bone.scatter import USUAL_SHARE, scattered_light
from limbwright.film.new_bone.width import new_bone_width
from limbwright.film.reading.development import Development
from limbwright.film.tracing.plate import Floats, Mask, Plate, Point
from limbwright.film.tracing.shaft import ShaftTrace
from limbwright.finding import Finding, Severity
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Measured, Value

HOST_MM = (4.0, 14.0)
"""Distances from a cut between which the neighbouring bone is measured; engineering judgement. [mm]"""
SCATTER_LEFT_IN_SD = 0.025
"""Standard uncertainty of a ratio from scattered light where it cannot be taken off; engineering judgement,
as found on phantom films."""
GREY_RATIO_SD = 0.015
"""Standard uncertainty of a ratio of grey values between films of one machine; engineering judgement."""
SOFT_TISSUE_SD = 0.008
"""Standard uncertainty of an attenuation ratio from what lies before and behind the bone, which can only be
inferred; engineering judgement, as found on phantom films."""
CUT_REACH_MM = 5.0


class NewBoneShape(StrEnum):
    """Outline of the new bone (Li, Saleh, Yang & Coulton, J Orthop Res 2006; value from memory)."""

    FUSIFORM = "fusiform"
    CYLINDRICAL = "cylindrical"
    CONCAVE = "concave"
    LATERAL = "lateral"
    CENTRAL = "central"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineRule(Value):
    """Where one shape ends and the next begins; settings of the surgeon's practice."""

    wider_from: float = 1.08
    """Width at mid-gap over the bone's width from which new bone is fusiform."""
    narrower_below: float = 0.92
    """Width ratio below which it is concave."""
    pillar_below: float = 0.65
    """Width ratio below which, with both borders drawn in, it is central."""
    one_sided_below: float = 0.45
    """Density of the weaker cortex over the stronger one below which it is lateral (one-sided)."""
    seen_from: float = 0.05
    """Attenuation ratio from which there is new bone at all."""
    bridged_from: float = 0.70
    """Attenuation ratio that a cortex must reach at every level of the gap to count as bridged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CortexRatio(Value):
    """New bone of one cortex against the same cortex above and below."""

    pixel_value_ratio: Measured
    """Mean grey of the gap over mean grey of the neighbouring bone, nothing subtracted: the published
    ratio."""
    attenuation_ratio: Measured
    """The same in attenuation, with the soft tissue in front of and behind the bone taken off."""
    weakest: float
    """Attenuation ratio of its weakest 2 mm."""
    bridged: bool
    """Whether even these reach the practice's limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBone(Value):
    """New bone in one gap on one film."""

    viewer_left: CortexRatio
    """Cortex at the viewer's left."""
    viewer_right: CortexRatio
    """Cortex at the viewer's right."""
    whole: CortexRatio
    """Whole gap between the outer walls, metal left out."""
    gap_mm: Measured
    """Length of the gap along the shaft [plate mm]."""
    ends_px: tuple[Point, Point]
    """Middle of the bone at the upper and the lower end of the gap, where the cortices end: column and row
    [px]."""
    width_ratio: Measured | None
    """Narrowest width of new bone over the bone's width beside the gap (callus diameter ratio); of a
    bulge the widest. None where its borders are not seen."""
    outline: NewBoneShape | None
    """Shape; None where its borders are not seen."""
    cortices_bridged: int
    """Of the two that this film shows."""
    metal_share: float
    """Share of the gap hidden by metal, 0 to 1."""
    findings: tuple[Finding, ...]
    """What weakens the measurement."""


def measure_new_bone(
    plate: Plate,
    upper: ShaftTrace,
    lower: ShaftTrace,
    gap_px: tuple[Point, Point],
    *,
    development: Development,
    rule: OutlineRule | None = None,
    scatter: tuple[float, float] = USUAL_SHARE,
) -> NewBone:
    """Measure the new bone between two traced fragments.

    Parameters
    ----------
    plate : Plate
        The film.
    upper, lower : ShaftTrace
        Traces of the fragments above and below; each must come within 10 mm of its cut.
    gap_px : tuple of two points
        Rough clicks on the upper and lower end of the gap, in the middle of the bone, up to 3 mm off.
    development : Development
        How attenuation became grey.
    rule : OutlineRule, optional
        Limits of shapes and bridging; our defaults unless given.
    scatter : tuple of float
        Share of scattered light (`new_bone.scatter`) and its standard uncertainty; zeros for films without.

    Raises
    ------
    Refused
        Where the traces do not reach the gap, or metal hides both cortices.

    Notes
    -----
    Each cortex is a lane between its walls above and below the gap. Its ratio is the mean over the gap
    divided by the mean of the same lane 4 to 14 mm above and below. Scattered light is taken off where the
    film tells attenuation itself. The uncertainty is the scatter over clicks moved by 1 mm, with the scatter
    along the lane and what is not known of the scattered light.
    """
    rule = OutlineRule() if rule is None else rule
    field, clicks = gap_field(plate, upper, lower, gap_px, development)
    shares = (0.0, 0.0)
    if development.certain and (development.absolute or development.in_light):
        middle_px = (0.5 * (gap_px[0][0] + gap_px[1][0]), 0.5 * (gap_px[0][1] + gap_px[1][1]))
        made = scattered_light(plate, middle_px, development)
        shares = (scatter[0] * made, scatter[1] * made)
    cloudier = field.without_scatter(shares[0] - shares[1])
    field = field.without_scatter(shares[0])
    cuts, cut_sd = _snapped_cuts(field, clicks)
    lanes = tuple(_lane_profile(field, kind) for kind in range(3))
    cloudy = _ratios(field.strip.depth_mm, tuple(_lane_profile(cloudier, k) for k in range(3)), cuts, rule)
    readings = [
        _ratios(field.strip.depth_mm, lanes, (cuts[0] + a, cuts[1] + b), rule)
        for a in (-1.0, 0.0, 1.0)
        for b in (-1.0, 0.0, 1.0)
    ]
    middle = readings[4]
    findings = []
    metal_share = _metal_share(field, cuts)
    if not development.certain:
        findings.append(_not_linear())
    width, drawn_in = new_bone_width(field, cuts)
    by_scatter = [
        abs(middle[k].attenuation_ratio.value - cloudy[k].attenuation_ratio.value)
        if shares[1] > 0 or scatter == (0.0, 0.0)
        else SCATTER_LEFT_IN_SD
        for k in range(3)
    ]
    cortices = [_with_spread(middle[k], [r[k] for r in readings], by_scatter[k]) for k in range(3)]
    left, right, whole = cortices
    return NewBone(
        viewer_left=left,
        viewer_right=right,
        whole=whole,
        gap_mm=Measured(value=cuts[1] - cuts[0], sd=cut_sd, unit="mm"),
        ends_px=_ends_px(plate, field, cuts),
        width_ratio=width,
        outline=_outline(width, drawn_in, ratios=(left, right, whole), rule=rule),
        cortices_bridged=int(left.bridged) + int(right.bridged),
        metal_share=metal_share,
        findings=tuple(findings),
    )


def _lane(field: GapField, kind: int) -> Mask:
    """Places of the left cortex (0), the right cortex (1) or everything between the outer walls (2)."""
    offset = field.strip.offset_mm[None, :]
    margin = 0.3
    if kind == 0:
        inside = (offset > field.left_outer[:, None] + margin) & (offset < field.left_inner[:, None])
    elif kind == 1:
        inside = (offset < field.right_outer[:, None] - margin) & (offset > field.right_inner[:, None])
    else:
        inside = (offset > field.left_outer[:, None] + margin) & (
            offset < field.right_outer[:, None] - margin
        )
    return np.asarray(inside & ~field.metal & field.strip.usable)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Lane:
    """Mean attenuation above soft tissue and mean grey of one lane by depth, NaN where too little is seen."""

    net: Floats
    grey: Floats


def _lane_profile(field: GapField, kind: int) -> _Lane:
    lane = _lane(field, kind)
    count = lane.sum(axis=1)
    net = np.where(lane, field.attenuation - field.soft, 0.0).sum(axis=1) / np.maximum(count, 1)
    grey = np.where(lane, field.strip.grey, 0.0).sum(axis=1) / np.maximum(count, 1)
    return _Lane(net=np.where(count >= 3, net, np.nan), grey=np.where(count >= 3, grey, np.nan))


def _ratios(
    depth: Floats, lanes: tuple[_Lane, ...], cuts: tuple[float, float], rule: OutlineRule
) -> tuple[CortexRatio, ...]:
    top, bottom = cuts
    gap = (depth > top + 0.5) & (depth < bottom - 0.5)
    above = (depth < top - HOST_MM[0]) & (depth > top - HOST_MM[1])
    below = (depth > bottom + HOST_MM[0]) & (depth < bottom + HOST_MM[1])
    out = []
    for lane in lanes:
        row_net, row_grey, seen = lane.net, lane.grey, np.isfinite(lane.net)
        if (gap & seen).sum() < 3 or min((above & seen).sum(), (below & seen).sum()) < 5:
            raise Refused(
                "too little of a cortex is to be seen in the gap or within 14 mm of it.",
                where="new bone",
                next_step="Trace each fragment up to its cut, or choose a film on which metal hides less.",
            )
        host_net = 0.5 * (np.nanmean(row_net[above]) + np.nanmean(row_net[below]))
        host_grey = 0.5 * (np.nanmean(row_grey[above]) + np.nanmean(row_grey[below]))
        if host_net <= 0:
            raise Refused(
                "the bone beside the gap is no denser than the soft tissue beside it.",
                where="new bone",
                next_step="Check that the walls lie on the bone.",
            )
        ratio = row_net[gap] / host_net
        size = max(1, round(2.0 / STEP_MM))
        known = ratio[np.isfinite(ratio)]
        running = np.convolve(known, np.ones(size) / size, mode="valid") if len(known) >= size else known
        uneven = np.concatenate([_unevenness(depth[rows], row_net[rows]) for rows in (above, below)])
        noise = float(np.std(uneven) / host_net / np.sqrt(5.0))
        out.append(
            CortexRatio(
                pixel_value_ratio=Measured(
                    value=float(np.nanmean(row_grey[gap]) / host_grey), sd=0.3 * noise, unit="1"
                ),
                attenuation_ratio=Measured(value=float(np.nanmean(ratio)), sd=noise, unit="1"),
                weakest=float(running.min()),
                bridged=bool(running.min() >= rule.bridged_from),
            )
        )
    return tuple(out)


def _unevenness(depth: Floats, value: Floats) -> Floats:
    """What a straight line along the bone leaves of a lane; places that are not seen left out."""
    seen = np.isfinite(value)
    line = np.polynomial.polynomial.polyfit(depth[seen], value[seen], 1)
    return np.asarray(value[seen] - line[0] - line[1] * depth[seen])


def _with_spread(middle: CortexRatio, readings: list[CortexRatio], by_scatter: float) -> CortexRatio:
    """The middle reading, its uncertainty widened by the scatter over moved clicks and by scattered light."""

    def widened(measured: Measured, values: list[float], *more: float) -> Measured:
        variance = measured.sd**2 + np.var(values) + sum(sd**2 for sd in more)
        return replace(measured, sd=float(np.sqrt(variance)))

    attenuation = [r.attenuation_ratio.value for r in readings]
    return replace(
        middle,
        pixel_value_ratio=widened(
            middle.pixel_value_ratio, [r.pixel_value_ratio.value for r in readings], GREY_RATIO_SD
        ),
        attenuation_ratio=widened(middle.attenuation_ratio, attenuation, by_scatter, SOFT_TISSUE_SD),
    )


def _snapped_cuts(field: GapField, clicks: tuple[float, float]) -> tuple[tuple[float, float], float]:
    """Depth of both ends of the gap where the cortices end, and the standard uncertainty of their
    distance."""
    from scipy.ndimage import gaussian_filter1d

    depth = field.strip.depth_mm
    lanes = _lane(field, 0) | _lane(field, 1)
    net = np.where(lanes, field.attenuation - field.soft, 0.0)
    count = lanes.sum(axis=1)
    profile = np.where(count > 0, net.sum(axis=1) / np.maximum(count, 1), np.nan)
    known = np.isfinite(profile)
    profile = np.interp(depth, depth[known], profile[known])
    slope = gaussian_filter1d(profile, 0.8 / STEP_MM, order=1, mode="nearest") / STEP_MM
    noise = 1.4826 * float(np.median(np.abs(slope - np.median(slope)))) + 1e-12
    cuts, spreads = [], []
    for click, sign in zip(clicks, (-1.0, 1.0), strict=True):
        near = np.abs(depth - click) <= CUT_REACH_MM
        gain = np.where(near, sign * slope, -np.inf)
        best = int(np.clip(gain.argmax(), 1, len(depth) - 2))
        if gain[best] < 5.0 * noise:
            # The end of the cortex has faded into the new bone: the click stands, as uncertain as a click.
            cuts.append(click)
            spreads.append(1.5)
            continue
        left, middle, right = (sign * slope[best + k] for k in (-1, 0, 1))
        bend = left - 2 * middle + right
        shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
        cuts.append(float(depth[best] + np.clip(shift, -1, 1) * STEP_MM))
        spreads.append(0.25)
    return (cuts[0], cuts[1]), float(np.hypot(spreads[0], spreads[1]))


def _ends_px(plate: Plate, field: GapField, cuts: tuple[float, float]) -> tuple[Point, Point]:
    depth = field.strip.depth_mm
    middle = [float(np.interp(c, depth, 0.5 * (field.left_outer + field.right_outer))) for c in cuts]
    x, y = field.strip.guide.at(np.array(cuts), np.array(middle))
    upper, lower = plate.px(np.stack([x, y], axis=1))
    return (float(upper[0]), float(upper[1])), (float(lower[0]), float(lower[1]))


def _metal_share(field: GapField, cuts: tuple[float, float]) -> float:
    depth, offset = field.strip.depth_mm[:, None], field.strip.offset_mm[None, :]
    gap = (depth > cuts[0]) & (depth < cuts[1])
    gap = gap & (offset > field.left_outer[:, None]) & (offset < field.right_outer[:, None])
    return float((field.metal & gap).sum() / max(int(gap.sum()), 1))


def _outline(
    width: Measured | None,
    drawn_in: bool,
    *,
    ratios: tuple[CortexRatio, CortexRatio, CortexRatio],
    rule: OutlineRule,
) -> NewBoneShape | None:
    left, right, whole = ratios
    weaker, stronger = sorted((left.attenuation_ratio.value, right.attenuation_ratio.value))
    if max(whole.attenuation_ratio.value, stronger) < rule.seen_from:
        return NewBoneShape.NONE
    if width is not None and drawn_in and width.value < rule.pillar_below:
        return NewBoneShape.CENTRAL
    if weaker < rule.one_sided_below * stronger:
        return NewBoneShape.LATERAL
    if width is None:
        return None
    if width.value >= rule.wider_from:
        return NewBoneShape.FUSIFORM
    return NewBoneShape.CONCAVE if width.value < rule.narrower_below else NewBoneShape.CYLINDRICAL


def _not_linear() -> Finding:
    return Finding(
        id="film-density-processed",
        severity=Severity.CAUTION,
        words=(
            "The film does not say how its grey values were made; ratios are ratios of displayed grey "
            "and depend on the processing."
        ),
        next_step="Compare only films of the same machine and processing.",
        rule="A density ratio needs grey values that are linear in attenuation, or whose curve is known.",
        source=COMMON_PRACTICE,
    )
