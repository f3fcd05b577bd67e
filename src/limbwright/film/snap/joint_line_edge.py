"""The edge of one bone along a joint, followed as a smooth path from rough ends."""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.guide import Guide, through_curve
from limbwright.film.tracing.path import between_columns, smooth_paths
from limbwright.film.tracing.plate import Floats, Image, Mask, Plate
from limbwright.film.tracing.strip import Strip, straightened

CLICK_REACH_MM = 6.0
STEP_MM = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How the edge of one joint line shows itself."""

    bone_above: bool
    """Whether the bone lies above the joint on the film."""
    filter_mm: float
    """Standard deviation of the filter."""
    outward: float
    """Which way the steepest grey is moved, in blur widths, away from the bone +."""
    gap_mm: tuple[float, float]
    """How far beyond the joint space the edge of the other bone is looked for, which sets this edge apart
    from others like it."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class JointStrip:
    """The film straightened along a joint line, depth from the viewer's left to right."""

    strip: Strip
    gain: Image
    """Slope in the sense of the edge."""
    margin_mm: float
    """Depth of the first end; the second lies `length_mm` further."""
    length_mm: float
    """Distance of the two ends."""
    bone_above: bool

    @property
    def guide(self) -> Guide:
        """The straight line through both ends."""
        return self.strip.guide

    @property
    def away(self) -> float:
        """Sign of offsets that lead out of the bone."""
        # Offsets run to the right of a line that runs down the film; here, where it runs right, they run up.
        return -1.0 if self.bone_above else 1.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Contour:
    """An edge by depth, and how well it is seen."""

    depth_mm: Floats
    offset_mm: Floats
    seen: Mask
    """Where it is about as steep as along most of it."""
    support: float
    """0 to 1."""
    scatter_mm: float
    """Standard uncertainty of its level that noise leaves."""


def joint_strip(plate: Plate, ends_mm: Floats, look: Look) -> JointStrip:
    """Straighten the film along a joint line. Ends of shape (2, 2), plate millimetres, left end first."""
    along = (ends_mm[1] - ends_mm[0]) / np.hypot(*(ends_mm[1] - ends_mm[0]))
    length = float(np.hypot(*(ends_mm[1] - ends_mm[0])))
    margin = min(9.0, 0.35 * length)
    count = round((length + 2 * margin) / STEP_MM)
    line: Floats = ends_mm[0] - margin * along + np.arange(count + 1)[:, None] * STEP_MM * along
    strip = straightened(
        plate,
        through_curve(line, np.arange(count + 1, dtype=np.float64) * STEP_MM, step_mm=STEP_MM),
        low_mm=-CLICK_REACH_MM - 12.0,
        high_mm=CLICK_REACH_MM + 12.0,
        offset_step_mm=max(0.12, plate.pixel_mm),
        depth_step_mm=STEP_MM,
        averaged_mm=0.9,
    )
    slope = strip.slope(look.filter_mm)
    return JointStrip(
        strip=strip,
        gain=slope if look.bone_above else -slope,
        margin_mm=margin,
        length_mm=length,
        bone_above=look.bone_above,
    )


def contour(joint: JointStrip, rows: Mask, look: Look, *, sigma_mm: float) -> Contour:
    """Follow the edge over some rows of the strip."""
    strip = joint.strip
    part = np.asarray(joint.gain[rows], dtype=np.float32)
    outside = np.abs(strip.offset_mm) > CLICK_REACH_MM
    part[:, outside] = 0.0
    typical = float(np.quantile(part.max(axis=1), 0.8))
    spread = float(np.quantile(np.abs(part[:, ~outside]), 0.5)) + 1e-9
    if typical <= 0:
        count = int(rows.sum())
        return Contour(
            depth_mm=strip.depth_mm[rows],
            offset_mm=np.zeros(count),
            seen=np.zeros(count, dtype=bool),
            support=0.0,
            scatter_mm=1.0,
        )
    scaled = np.clip(part / np.float32(typical), 0.0, 1.2)
    # The other bone's edge across the joint space tells this edge from others that look like it.
    opposite = np.asarray(-joint.gain[rows] / np.float32(typical), dtype=np.float32)
    opposite[:, outside] = 0.0
    scaled = scaled + np.float32(0.6) * _across_gap(opposite, strip, look)
    # Of two edges alike, the one nearer to the click is meant.
    scaled = scaled - np.float32(0.15) * (strip.offset_mm[None, :] / CLICK_REACH_MM).astype(np.float32) ** 2
    scaled[:, outside] = -5.0
    path = smooth_paths(scaled[None], reach=2, stiffness=0.08)[0]
    column, height = between_columns(part, path)
    offset = strip.offset_mm[0] + column * strip.offset_step_mm
    depth = strip.depth_mm[rows]
    residual = offset - np.polynomial.Polynomial.fit(depth, offset, 2)(depth)
    scatter = float(1.4826 * np.median(np.abs(residual)))
    contrast = float(np.median(height))
    return Contour(
        depth_mm=depth,
        offset_mm=offset + joint.away * look.outward * sigma_mm,
        seen=height > 0.4 * typical,
        support=float(np.clip(contrast / (contrast + 3.0 * spread), 0.0, 1.0) * np.exp(-0.5 * scatter)),
        # Neighbouring rows are alike over some 3 mm.
        scatter_mm=scatter / float(np.sqrt(max(1.0, len(depth) * STEP_MM / 3.0))),
    )


def _across_gap(opposite: Image, strip: Strip, look: Look) -> Image:
    """Steepest opposite edge beyond the joint space, for every place. Shape as given, 0 to 1."""
    from scipy.ndimage import maximum_filter1d

    step = strip.offset_step_mm
    near, far = round(look.gap_mm[0] / step), round(look.gap_mm[1] / step)
    padded = np.pad(np.clip(opposite, 0.0, 1.0), ((0, 0), (far, far)))
    top = maximum_filter1d(padded, far - near + 1, axis=1, mode="constant")
    middle = (near + far) // 2 * (-1 if look.bone_above else 1)
    columns = opposite.shape[1]
    return np.asarray(top[:, far + middle : far + middle + columns], dtype=np.float32)


def robust_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Height at 0 and slope of a straight line by Tukey's weights."""
    weight = np.ones_like(x)
    line = np.array([float(np.median(y)), 0.0])
    for _ in range(8):
        line = np.polynomial.polynomial.polyfit(x, y, 1, w=np.sqrt(weight))
        residual = y - line[0] - line[1] * x
        limit = 4.685 * max(1.4826 * float(np.median(np.abs(residual))), 0.1)
        weight = np.clip(1.0 - (residual / limit) ** 2, 1e-6, None) ** 2
    return float(line[0]), float(line[1])
