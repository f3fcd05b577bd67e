"""Joint lines from two rough clicks: condyles, plateau, plafond from the front; the plateau from the side."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance
from limbwright.film.snap.joint_line_ankle import OUTLINE_STEP_MM, find_ankle, outline_slope
from limbwright.film.snap.joint_line_band import band_middle
from limbwright.film.snap.joint_line_edge import Contour, JointStrip, Look, contour, joint_strip, robust_line
from limbwright.film.tracing.plate import Floats, Plate, Point
from limbwright.film.tracing.wall import SQUARE_ROOT_EDGE
from limbwright.limb.anatomy import Projection


class JointLine(StrEnum):
    """Lines that joint angles are measured with."""

    CONDYLES = "condyles"
    PLATEAU = "plateau"
    PLAFOND = "plafond"


LOOKS = {
    JointLine.CONDYLES: Look(bone_above=True, filter_mm=0.4, outward=SQUARE_ROOT_EDGE, gap_mm=(2.5, 9.0)),
    JointLine.PLATEAU: Look(bone_above=False, filter_mm=0.8, outward=0.0, gap_mm=(2.5, 9.0)),
    JointLine.PLAFOND: Look(bone_above=True, filter_mm=0.4, outward=-SQUARE_ROOT_EDGE, gap_mm=(1.5, 5.0)),
}
LEAST_SUPPORT = {JointLine.CONDYLES: 0.45, JointLine.PLATEAU: 0.35, JointLine.PLAFOND: 0.33}
"""Support below which a proposal is refused: noise, soft tissue and shafts stay below it, joints of phantoms
and the ankle of a real film above; engineering judgement."""
SIDE_LOOK = Look(bone_above=False, filter_mm=1.2, outward=0.0, gap_mm=(2.5, 9.0))
"""The plateau from the side: both plateaus lie over each other, and their spines cross the line."""
END_SD_MM = {JointLine.CONDYLES: 0.01, JointLine.PLATEAU: 0.0, JointLine.PLAFOND: 0.05}
"""Standard uncertainty of each end across the line beyond noise; engineering judgement, as found on phantom
films. That of a plateau comes with its middle."""
TOUCH_SD_MM = 0.3
"""Standard uncertainty, along the line, of the middle between the places where it touches the condyles: when
the leg is turned it is not quite the middle of the knee."""
ON_PLATEAU = 0.63
"""Where the middle of each plateau lies on a frontal film: share of the half width of the bone; engineering
judgement."""
RIM = 0.87
"""Where the front and the back rim lie on a sagittal film: share of the half depth of the bone; engineering
judgement."""
RIM_SD_MM = 0.55
"""Standard uncertainty of each end of a plateau from the side, across the line: a turned leg and a plateau
that leans to one side move the rims against each other; engineering judgement, as found on phantom films."""
ON_PLATEAU_SD_MM = 0.5
LEAST_BORDER = 0.25
"""Steepness of a border of the tibia, as a share of the strongest edge beside it, below which it is not seen;
engineering judgement."""
CLICKED_SD_MM = 2.0
"""Standard uncertainty of a middle that is taken from the clicks, where no borders of the bone are seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLine:
    """A joint line as the film shows it."""

    kind: JointLine
    """Which one."""
    first_px: Point
    """Column and row near the first click [px]."""
    second_px: Point
    """Column and row near the second click [px]."""
    sd_mm: float
    """Standard uncertainty of each end across the line, in the plate's millimetres."""
    middle_sd_mm: float
    """Standard uncertainty of the midpoint along the line, in the plate's millimetres."""
    support: float
    """How clearly the edge is seen at the weaker end, 0 to 1."""

    @property
    def middle_px(self) -> Point:
        """Midpoint of both ends: the joint's centre [px]."""
        first, second = self.first_px, self.second_px
        return 0.5 * (first[0] + second[0]), 0.5 * (first[1] + second[1])

    def middle_mark(self, *, column_mm: float) -> Mark:
        """The joint's centre as a case keeps it, snapped."""
        sd_mm = float(np.hypot(self.middle_sd_mm, self.sd_mm / np.sqrt(2.0)))
        x, y = self.middle_px
        return Mark(x_px=x, y_px=y, sd_px=sd_mm / column_mm, provenance=Provenance.SNAPPED)

    def marks(self, *, column_mm: float) -> tuple[Mark, Mark]:
        """Both ends as a case keeps them, snapped."""
        first, second = (
            Mark(x_px=at[0], y_px=at[1], sd_px=self.sd_mm / column_mm, provenance=Provenance.SNAPPED)
            for at in (self.first_px, self.second_px)
        )
        return first, second


def find_joint_line(
    plate: Plate,
    first_px: Point,
    second_px: Point,
    *,
    kind: JointLine,
    projection: Projection = Projection.FRONTAL,
    blur_mm: float = 0.1,
) -> FoundLine:
    """Snap a joint line.

    Parameters
    ----------
    plate : Plate
        The film.
    first_px, second_px : points
        Rough clicks, up to 4 mm off: on the two condyles, the two plateaus, or the two ends of the plafond;
        on a sagittal film on the front and the back rim of the plateau.
    kind : JointLine
        Which line.
    projection : Projection
        How the film was taken. On a sagittal film only the plateau is snapped.
    blur_mm : float
        Blur of the film. [plate mm]

    Raises
    ------
    Refused
        Where one end shows no edge, and for lines of a sagittal film that are to be marked by hand.
    """
    plate.require_on_film((first_px, second_px))
    if projection is Projection.SAGITTAL and kind is not JointLine.PLATEAU:
        raise _refused(kind, "on a sagittal film only the plateau can be snapped")
    ends = plate.mm(np.array([first_px, second_px]))
    # Always from the viewer's left to right, so that below the line is at smaller offsets.
    flip = bool(ends[0, 0] > ends[1, 0])
    ends = ends[::-1] if flip else ends
    if np.hypot(*(ends[1] - ends[0])) < 10.0:
        raise _refused(kind, "the two clicks lie less than 10 mm apart")
    if projection is Projection.SAGITTAL:
        found = _plateau_from_side(plate, ends)
    else:
        look = LOOKS[kind]
        sigma = float(np.hypot(look.filter_mm, blur_mm))
        found = _SNAPS[kind](plate, ends, look, sigma)
    least = LEAST_SUPPORT[kind]
    if found.support < least:
        raise _refused(kind, f"the edge is seen with a support of {found.support:.2f}, {least:g} is needed")
    first, second = plate.px(found.ends_mm[::-1] if flip else found.ends_mm)
    return FoundLine(
        kind=kind,
        first_px=(float(first[0]), float(first[1])),
        second_px=(float(second[0]), float(second[1])),
        sd_mm=found.sd_mm,
        middle_sd_mm=found.middle_sd_mm,
        support=found.support,
    )


def _refused(kind: JointLine, found: str) -> Refused:
    return Refused(
        f"{found}.",
        where=f"line of the {kind}",
        next_step="Click nearer to the joint line, or mark its two ends by hand.",
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Snapped:
    """Both ends on the edge."""

    ends_mm: Floats
    """Shape (2, 2), the viewer's left end first."""
    support: float
    sd_mm: float
    middle_sd_mm: float


def _halves(joint: JointStrip, look: Look, sigma: float) -> tuple[Contour, Contour]:
    """The edge about each end."""
    depth = joint.strip.depth_mm
    first, second = (
        contour(joint, np.abs(depth - centre) <= joint.margin_mm, look, sigma_mm=sigma)
        for centre in (joint.margin_mm, joint.margin_mm + joint.length_mm)
    )
    return first, second


def _on_film(joint: JointStrip, depths: tuple[float, float], offsets: tuple[float, float]) -> Floats:
    x, y = joint.guide.at(np.array(depths), np.array(offsets))
    return np.stack([x, y], axis=1)


def _condyles(plate: Plate, ends: Floats, look: Look, sigma: float) -> _Snapped:
    """The straight line that touches both condyles from below."""
    halves: tuple[Contour, Contour] | None = None
    for _ in range(2):
        joint = joint_strip(plate, ends, look)
        halves = _halves(joint, look, sigma)
        ends = _touching(joint, halves)
    assert halves is not None
    return _Snapped(
        ends_mm=ends,
        support=min(half.support for half in halves),
        # The scatter about a parabola holds the shape of the condyle as well.
        sd_mm=float(np.hypot(END_SD_MM[JointLine.CONDYLES], 0.4 * max(half.scatter_mm for half in halves))),
        middle_sd_mm=TOUCH_SD_MM,
    )


def _touching(joint: JointStrip, halves: tuple[Contour, Contour]) -> Floats:
    arcs = []
    for half in halves:
        # Beyond the condyle there is no edge, and a path runs anywhere.
        seen = half.seen if half.seen.sum() > 12 else np.ones_like(half.seen)
        depth, offset = half.depth_mm[seen], half.offset_mm[seen]
        arcs.append((depth, np.polynomial.Polynomial.fit(depth, offset, 4)(depth)))
    tilt = 0.0
    places: list[tuple[float, float]] = []
    for _ in range(4):
        places = []
        for depth, offset in arcs:
            place = int(np.argmax(joint.away * (offset - tilt * depth)))
            places.append((float(depth[place]), float(offset[place])))
        tilt = (places[1][1] - places[0][1]) / (places[1][0] - places[0][0])
    return _on_film(joint, (places[0][0], places[1][0]), (places[0][1], places[1][1]))


def _plateau(plate: Plate, ends: Floats, look: Look, sigma: float) -> _Snapped:
    """The middle of each plateau; they slope in the beam (see `joint_line_band`)."""
    middle_sd = CLICKED_SD_MM
    halves: tuple[Contour, Contour] | None = None
    sd = 0.0
    for on_bone in (False, True):
        if on_bone:
            placed = _on_bone(plate, ends, usual=0.78, share=ON_PLATEAU, heights_mm=(-10.0, -6.0))
            if placed is not None:
                ends, middle_sd = placed, ON_PLATEAU_SD_MM
        joint = joint_strip(plate, ends, look)
        halves = _halves(joint, look, sigma)
        depths = (joint.margin_mm, joint.margin_mm + joint.length_mm)
        one, other = (band_middle(joint, half, at) for half, at in zip(halves, depths, strict=True))
        ends = _on_film(joint, depths, (one.offset_mm, other.offset_mm))
        sd = max(one.sd_mm, other.sd_mm)
    assert halves is not None
    return _Snapped(
        ends_mm=ends,
        support=min(half.support for half in halves),
        sd_mm=float(np.hypot(sd, 0.5 * max(half.scatter_mm for half in halves))),
        middle_sd_mm=middle_sd,
    )


def _on_bone(
    plate: Plate, ends: Floats, *, usual: float, share: float, heights_mm: tuple[float, float]
) -> Floats | None:
    """Ends moved along the line to where they lie on the bone; None where its borders are not seen.

    Parameters
    ----------
    usual : float
        Half width of the bone over the distance of the ends, as it usually is.
    share : float
        Where the ends lie: share of the half width, from its middle.
    heights_mm : tuple of float
        Heights above the line between which the borders are looked for.
    """
    length = float(np.hypot(*(ends[1] - ends[0])))
    along = (ends[1] - ends[0]) / length
    at = np.arange(-0.6 * length, 1.6 * length, OUTLINE_STEP_MM)
    slope = outline_slope(plate, ends[0], along, at, heights_mm=heights_mm)
    rising, falling = np.clip(slope, 0.0, 1.0), np.clip(-slope, 0.0, 1.0)
    # Of all pairs of borders that the clicks allow, the steepest.
    halves = usual * np.arange(0.8, 1.28, 0.0125)[:, None] * length
    middles = 0.5 * length + np.arange(-5.0, 5.1, 0.25)
    score = np.interp(middles - halves, at, rising) + np.interp(middles + halves, at, falling)
    score = score - 0.2 * ((middles - 0.5 * length) / 4.0) ** 2
    score = score - 0.2 * (np.log(halves / length / usual) / 0.15) ** 2
    best = np.unravel_index(int(score.argmax()), score.shape)
    half, middle = float(halves[best[0], 0]), float(middles[best[1]])
    seen = min(np.interp(middle - half, at, rising), np.interp(middle + half, at, falling))
    if seen < LEAST_BORDER:
        return None
    return np.asarray(ends[0] + np.outer([middle - share * half, middle + share * half], along))


def _plafond(plate: Plate, ends: Floats, look: Look, sigma: float) -> _Snapped:
    """A straight line along the subchondral bone, on both sides of the middle of the ankle."""
    middle_sd = CLICKED_SD_MM
    edge: Contour | None = None
    for on_bone in (False, True):
        half = 0.5
        if on_bone:
            ankle = find_ankle(plate, ends)
            if ankle is not None:
                along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
                places = [ankle.middle_mm - ankle.half_mm, ankle.middle_mm + ankle.half_mm]
                ends, middle_sd, half = ends[0] + np.outer(places, along), ankle.middle_sd_mm, 0.46
        joint = joint_strip(plate, ends, look)
        centre = joint.margin_mm + 0.5 * joint.length_mm
        rows = np.abs(joint.strip.depth_mm - centre) <= half * joint.length_mm
        edge = contour(joint, rows, look, sigma_mm=sigma)
        level, lean = robust_line(edge.depth_mm - centre, edge.offset_mm)
        aside = 0.5 * joint.length_mm
        ends = _on_film(joint, (centre - aside, centre + aside), (level - lean * aside, level + lean * aside))
    assert edge is not None
    return _Snapped(
        ends_mm=ends,
        support=edge.support,
        sd_mm=float(np.hypot(END_SD_MM[JointLine.PLAFOND], edge.scatter_mm)),
        middle_sd_mm=middle_sd,
    )


def _plateau_from_side(plate: Plate, ends: Floats) -> _Snapped:
    """The line from the front to the back rim of the plateau."""
    middle_sd = CLICKED_SD_MM
    edge: Contour | None = None
    for on_bone in (False, True):
        if on_bone:
            placed = _on_bone(plate, ends, usual=0.575, share=RIM, heights_mm=(-9.0, -5.0))
            if placed is not None:
                ends, middle_sd = placed, ON_PLATEAU_SD_MM
        joint = joint_strip(plate, ends, SIDE_LOOK)
        centre, aside = joint.margin_mm + 0.5 * joint.length_mm, 0.5 * joint.length_mm
        edge = contour(joint, np.abs(joint.strip.depth_mm - centre) <= aside, SIDE_LOOK, sigma_mm=0.0)
        level, lean = robust_line(edge.depth_mm - centre, edge.offset_mm)
        ends = _on_film(joint, (centre - aside, centre + aside), (level - lean * aside, level + lean * aside))
    assert edge is not None
    # Near the rims no spine crosses the line; there its middle is taken.
    look = LOOKS[JointLine.PLATEAU]
    joint = joint_strip(plate, ends, look)
    depths = (joint.margin_mm + 0.05 * joint.length_mm, joint.margin_mm + 0.95 * joint.length_mm)
    rims = []
    for depth in depths:
        rows = np.abs(joint.strip.depth_mm - depth) <= 4.5
        rims.append(band_middle(joint, contour(joint, rows, look, sigma_mm=0.0), depth))
    lean = (rims[1].offset_mm - rims[0].offset_mm) / (depths[1] - depths[0])
    start, end = joint.margin_mm, joint.margin_mm + joint.length_mm
    return _Snapped(
        ends_mm=_on_film(
            joint,
            (start, end),
            (
                rims[0].offset_mm + lean * (start - depths[0]),
                rims[1].offset_mm + lean * (end - depths[1]),
            ),
        ),
        support=edge.support,
        sd_mm=float(np.hypot(RIM_SD_MM, max(rim.sd_mm for rim in rims))),
        middle_sd_mm=middle_sd,
    )


_SNAPS = {
    JointLine.CONDYLES: _condyles,
    JointLine.PLATEAU: _plateau,
    JointLine.PLAFOND: _plafond,
}
