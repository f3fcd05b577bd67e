"""Condyle, plateau and plafond lines of a frontal film from two rough clicks."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance
from limbwright.film.tracing.guide import through_curve
from limbwright.film.tracing.path import between_columns, smooth_paths
from limbwright.film.tracing.plate import Floats, Image, Mask, Plate, Point
from limbwright.film.tracing.strip import Strip, straightened
from limbwright.film.tracing.wall import SQUARE_ROOT_EDGE


class JointLine(StrEnum):
    """Lines that joint angles are measured with."""

    CONDYLES = "condyles"
    PLATEAU = "plateau"
    PLAFOND = "plafond"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """How one joint line shows itself."""

    bone_above: bool
    filter_mm: float
    """Standard deviation of the filter. A plateau leans in the beam, so that its edge is a ramp whose middle
    is the middle of the plateau: only a filter as wide as the ramp finds it."""
    outward: float
    """Which way the steepest grey is moved, in blur widths, away from the bone +."""
    tangent: bool
    """Whether the line touches two round ends, rather than following two flat ones."""
    gap_mm: tuple[float, float]
    """How far beyond the joint space the edge of the other bone is looked for, which sets this edge apart
    from
    others like it."""
    straight: bool = False
    """Whether the edge runs straight from one end to the other."""
    inset: float = 0.0
    """Where the ends lie on the bone, as a share of its half width from its middle; 0 where the clicks
    say."""
    deep_mm: tuple[float, float] = (6.0, 11.0)
    """How far in the bone (+) or beyond the joint (-) its borders are looked for."""
    half_width: tuple[float, float] = (0.66, 0.98)
    """Half width of the bone there over the distance of the clicks."""
    ramp_mm: float = 0.0
    """How far into the bone the middle of the surface lies from the steepest grey."""
    sd_mm: float
    """Standard uncertainty of each end beyond noise; engineering judgement, as found on phantom films."""


_LOOKS = {
    JointLine.CONDYLES: _Look(
        bone_above=True,
        filter_mm=0.4,
        outward=SQUARE_ROOT_EDGE,
        tangent=True,
        gap_mm=(2.5, 9.0),
        sd_mm=0.15,
    ),
    JointLine.PLATEAU: _Look(
        bone_above=False,
        filter_mm=0.8,
        outward=0.0,
        tangent=False,
        gap_mm=(2.5, 9.0),
        inset=0.63,
        ramp_mm=0.7,
        sd_mm=0.4,
    ),
    JointLine.PLAFOND: _Look(
        bone_above=True,
        filter_mm=0.4,
        outward=-SQUARE_ROOT_EDGE,
        tangent=False,
        straight=True,
        gap_mm=(1.5, 5.0),
        # The dome of the talus, which lies between the malleoli, tells the middle of the ankle.
        inset=0.84,
        deep_mm=(-11.0, -6.0),
        half_width=(0.42, 0.80),
        sd_mm=0.2,
    ),
}
CLICK_REACH_MM = 6.0
STEP_MM = 0.3


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
    support: float
    """How clearly the edge is seen at the weaker end, 0 to 1."""

    @property
    def middle_px(self) -> Point:
        """Midpoint of both ends: the joint's centre [px]."""
        first, second = self.first_px, self.second_px
        return 0.5 * (first[0] + second[0]), 0.5 * (first[1] + second[1])

    def marks(self, *, column_mm: float) -> tuple[Mark, Mark]:
        """Both ends as a case keeps them, snapped."""
        first, second = (
            Mark(x_px=at[0], y_px=at[1], sd_px=self.sd_mm / column_mm, provenance=Provenance.SNAPPED)
            for at in (self.first_px, self.second_px)
        )
        return first, second


def find_joint_line(
    plate: Plate, first_px: Point, second_px: Point, *, kind: JointLine, blur_mm: float = 0.1
) -> FoundLine:
    """Snap a joint line to the film.

    Parameters
    ----------
    plate : Plate
        The film, frontal.
    first_px, second_px : points
        Rough clicks on the two condyles, the two plateaus, or the two ends of the plafond, up to 4 mm off.
    kind : JointLine
        Which line.
    blur_mm : float
        Blur of the film. [plate mm]

    Raises
    ------
    Refused
        Where one end shows no edge.
    """
    look = _LOOKS[kind]
    plate.require_on_film((first_px, second_px))
    ends = plate.mm(np.array([first_px, second_px]))
    # Always from the viewer's left to right, so that below the line is at smaller offsets.
    flip = bool(ends[0, 0] > ends[1, 0])
    ends = ends[::-1] if flip else ends
    length = float(np.hypot(*(ends[1] - ends[0])))
    if length < 10.0:
        raise _refused(kind, "the two clicks lie less than 10 mm apart")
    sigma = float(np.hypot(look.filter_mm, blur_mm))
    for place_on_bone in (False, True):
        found, support, noise = _both_ends(plate, ends, look, sigma, place_on_bone=place_on_bone)
        if support <= 0.15:
            raise _refused(kind, f"the edge is seen with a support of {support:.2f}, 0.15 is needed")
        ends = found
    first, second = plate.px(ends[::-1] if flip else ends)
    return FoundLine(
        kind=kind,
        first_px=(float(first[0]), float(first[1])),
        second_px=(float(second[0]), float(second[1])),
        sd_mm=float(np.hypot(look.sd_mm, noise)),
        support=support,
    )


def _refused(kind: JointLine, found: str) -> Refused:
    return Refused(
        f"{found}.",
        where=f"line of the {kind}",
        next_step="Click nearer to the joint line, or mark its two ends by hand.",
    )


def _both_ends(
    plate: Plate, ends: Floats, look: _Look, sigma: float, *, place_on_bone: bool
) -> tuple[Floats, float, float]:
    """Both ends moved onto the edge, the weaker support, the larger scatter. Ends shape (2, 2), mm."""
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    length = float(np.hypot(*(ends[1] - ends[0])))
    half = min(9.0, 0.35 * length)
    start = ends[0] - half * along
    count = round((length + 2 * half) / STEP_MM)
    line: Floats = np.asarray(start + np.arange(count + 1)[:, None] * STEP_MM * along, dtype=np.float64)
    guide = through_curve(line, np.arange(count + 1, dtype=np.float64) * STEP_MM, step_mm=STEP_MM)
    strip = straightened(
        plate,
        guide,
        low_mm=-CLICK_REACH_MM - 3.0,
        high_mm=CLICK_REACH_MM + 3.0,
        offset_step_mm=max(0.12, plate.pixel_mm),
        depth_step_mm=STEP_MM,
        averaged_mm=0.9,
    )
    slope = strip.slope(look.filter_mm)
    # Offsets run to the viewer's right of a line that runs down; for one that runs to the right they run up.
    gain = slope if look.bone_above else -slope
    outward = (-1.0 if look.bone_above else 1.0) * (look.outward * sigma - look.ramp_mm)
    found, supports, scatters = [], [], []
    for centre in (half, half + length):
        rows = np.abs(strip.depth_mm - centre) <= half
        depth, offset, support, scatter = _contour(strip, gain, rows, look)
        offset = offset + outward
        found.append((depth, offset))
        supports.append(support)
        scatters.append(scatter)
    if look.tangent:
        places = _tangent(found, down=look.bone_above)
    elif look.straight:
        rows = (strip.depth_mm >= half - 1.0) & (strip.depth_mm <= half + length + 1.0)
        depth, offset, support, scatter = _contour(strip, gain, rows, look)
        offset = offset + outward
        places = [_flat(depth, offset, at) for at in _places(plate, ends, look, half, place_on_bone)]
        supports, scatters = [support], [scatter]
    else:
        wanted = _places(plate, ends, look, half, place_on_bone)
        places = [_flat(depth, offset, at) for (depth, offset), at in zip(found, wanted, strict=True)]
    depths = np.array([p[0] for p in places])
    offsets = np.array([p[1] for p in places])
    x, y = guide.at(depths, offsets)
    return np.stack([x, y], axis=1), float(min(supports)), float(max(scatters))


def _contour(strip: Strip, gain: Image, rows: Mask, look: _Look) -> tuple[Floats, Floats, float, float]:
    part = np.asarray(gain[rows], dtype=np.float32)
    outside = np.abs(strip.offset_mm) > CLICK_REACH_MM
    part[:, outside] = 0.0
    typical = float(np.quantile(part.max(axis=1), 0.8))
    spread = float(np.quantile(np.abs(part), 0.5)) + 1e-9
    if typical <= 0:
        return strip.depth_mm[rows], np.zeros(int(rows.sum())), 0.0, 1.0
    scaled = np.clip(part / np.float32(typical), 0.0, 1.2)
    # The other bone's edge across the joint space tells this edge from others that look like it.
    scaled = scaled + np.float32(0.6) * _across_gap(-part / np.float32(typical), strip, look)
    # Of two edges alike, the one nearer to the click is meant.
    scaled = scaled - np.float32(0.15) * (strip.offset_mm[None, :] / CLICK_REACH_MM).astype(np.float32) ** 2
    scaled[:, outside] = -5.0
    path = smooth_paths(scaled[None], reach=2, stiffness=0.08)[0]
    column, height = between_columns(part, path)
    offset = strip.offset_mm[0] + column * strip.offset_step_mm
    depth = strip.depth_mm[rows]
    fit = np.polynomial.Polynomial.fit(depth, offset, 2)
    residual = offset - fit(depth)
    scatter = float(1.4826 * np.median(np.abs(residual)))
    contrast = float(np.median(height))
    support = float(np.clip(contrast / (contrast + 3.0 * spread), 0.0, 1.0) * np.exp(-0.5 * scatter))
    return depth, offset, support, scatter / np.sqrt(max(1.0, len(depth) * STEP_MM / 3.0))


def _places(plate: Plate, ends: Floats, look: _Look, half: float, place_on_bone: bool) -> tuple[float, float]:
    """Depths along the strip at which the line's ends lie."""
    length = float(np.hypot(*(ends[1] - ends[0])))
    on_bone = _inset_places(plate, ends, look) if look.inset > 0 and place_on_bone else None
    return (half, half + length) if on_bone is None else (half + on_bone[0], half + on_bone[1])


def _inset_places(plate: Plate, ends: Floats, look: _Look) -> tuple[float, float] | None:
    """Distances from the first click, along the line, at which the line's ends lie on the bone; None
    where its
    borders are not seen or contradict the clicks."""
    along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    length = float(np.hypot(*(ends[1] - ends[0])))
    into = np.array([-along[1], along[0]]) * (-1.0 if look.bone_above else 1.0)
    step, reach = 0.2, (look.half_width[1] - 0.5) * length + 2.0
    at = np.arange(-reach, length + reach, step)
    deep = np.arange(look.deep_mm[0], look.deep_mm[1], 0.5)
    x = ends[0, 0] + at[None, :] * along[0] + deep[:, None] * into[0]
    y = ends[0, 1] + at[None, :] * along[1] + deep[:, None] * into[1]
    grey, _ = plate.sampled(x, y)
    from scipy.ndimage import gaussian_filter1d

    slope = gaussian_filter1d(np.median(grey, axis=0).astype(np.float64), 0.6 / step, order=1)
    nearest = (look.half_width[0] - 0.58) * length
    first = slope * (at < -nearest)
    second = -slope * (at > length + nearest)
    low, high = float(at[int(first.argmax())]), float(at[int(second.argmax())])
    half = 0.5 * (high - low)
    if not look.half_width[0] * length <= half <= look.half_width[1] * length:
        return None
    middle = 0.5 * (low + high)
    if abs(middle - 0.5 * length) > 4.8:
        return None
    return middle - look.inset * half, middle + look.inset * half


def _across_gap(opposite: Image, strip: Strip, look: _Look) -> Image:
    """Steepest opposite edge beyond the joint space, for every place. Shape as given, 0 to 1."""
    from scipy.ndimage import maximum_filter1d

    step = strip.offset_step_mm
    near, far = round(look.gap_mm[0] / step), round(look.gap_mm[1] / step)
    size = far - near + 1
    padded = np.pad(np.clip(opposite, 0.0, 1.0), ((0, 0), (far, far)))
    top = maximum_filter1d(padded, size, axis=1, mode="constant")
    middle = (near + far) // 2 * (-1 if look.bone_above else 1)
    columns = opposite.shape[1]
    return np.asarray(top[:, far + middle : far + middle + columns], dtype=np.float32)


def _tangent(found: list[tuple[Floats, Floats]], *, down: bool) -> list[tuple[float, float]]:
    """Where one straight line touches both contours from outside."""
    smooth = []
    for depth, offset in found:
        fit = np.polynomial.Polynomial.fit(depth, offset, 4)
        smooth.append((depth, np.asarray(fit(depth))))
    sign = -1.0 if down else 1.0
    tilt = 0.0
    places: list[tuple[float, float]] = []
    for _ in range(4):
        places = []
        for depth, offset in smooth:
            place = int(np.argmax(sign * (offset - tilt * depth)))
            places.append((float(depth[place]), float(offset[place])))
        tilt = (places[1][1] - places[0][1]) / (places[1][0] - places[0][0])
    return places


def _flat(depth: Floats, offset: Floats, at: float) -> tuple[float, float]:
    """The contour at a place, from a robust straight line through its neighbourhood."""
    weight = np.ones_like(depth)
    line = np.array([float(np.median(offset)), 0.0])
    for _ in range(6):
        line = np.polynomial.polynomial.polyfit(depth - at, offset, 1, w=np.sqrt(weight))
        residual = offset - line[0] - line[1] * (depth - at)
        limit = 4.685 * max(1.4826 * float(np.median(np.abs(residual))), 0.1)
        weight = np.clip(1.0 - (residual / limit) ** 2, 1e-6, None) ** 2
    return at, float(line[0])
