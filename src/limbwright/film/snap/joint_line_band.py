"""The middle of a joint surface that leans in the beam: between the two borders of its shadow.

A plateau slopes, so that its far rim and its near rim fall on the film some millimetres apart. Between them
the subchondral plate shows as a bright band: the bone begins at the higher rim, and the band ends at the
underside of the plate at the lower rim. Its middle lies between the two, however much the plateau slopes.
"""

from dataclasses import dataclass

import numpy as np

from limbwright.film.snap.joint_line_edge import Contour, JointStrip, robust_line
from limbwright.film.tracing.plate import Floats

LOWER_SHARE = 0.39
"""Share of the lower border in the middle. Less than half, because rims are rounded; engineering judgement,
as found on phantom films."""
PLATE_MM = 1.5
"""How far the lower border lies under the surface itself: the subchondral plate, in the plate's millimetres;
engineering judgement, as found on phantom films."""
UPPER_LEVEL = 0.3
"""Height on the rise from joint space to band that is taken for its upper border."""
HALF_MM = 4.0
"""Half length of the stretch of joint line whose grey values are averaged."""
DEEPEST_MM = 13.0
SEEN_SD_MM = 0.15
"""Standard uncertainty of the middle where both borders are seen; engineering judgement, as found on phantom
films."""
UNSEEN_SD_MM = 0.5
"""The same where only the upper border is seen."""
USUAL_BELOW_MM = 0.6
"""How far the middle usually lies under the upper border, where the lower one is not seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Middle:
    """Middle of a joint surface at one place of the line."""

    offset_mm: float
    """Offset of the strip there."""
    sd_mm: float
    """Standard uncertainty of it."""


def band_middle(joint: JointStrip, edge: Contour, at_mm: float) -> Middle:
    """Middle of the band under an edge, at a depth of the strip."""
    strip = joint.strip
    near = np.abs(edge.depth_mm - at_mm) <= HALF_MM
    level, lean = robust_line(edge.depth_mm[near] - at_mm, edge.offset_mm[near])
    rows = np.flatnonzero(np.abs(strip.depth_mm - at_mm) <= HALF_MM)
    outward = np.arange(-DEEPEST_MM, 5.0, 0.05)
    profile = np.zeros(len(outward))
    for row in rows:
        offset = level + lean * (strip.depth_mm[row] - at_mm) + joint.away * outward
        profile += np.interp(offset, strip.offset_mm, strip.grey[row])
    borders = _borders(outward, profile / max(len(rows), 1))
    if borders is None:
        return Middle(offset_mm=level - joint.away * USUAL_BELOW_MM, sd_mm=UNSEEN_SD_MM)
    upper, lower = borders
    middle = (1.0 - LOWER_SHARE) * upper + LOWER_SHARE * (lower + PLATE_MM)
    return Middle(offset_mm=level + joint.away * middle, sd_mm=SEEN_SD_MM)


def _borders(outward_mm: Floats, grey: Floats) -> tuple[float, float] | None:
    """Upper and lower border of the band, along the outward direction; None where the band is not seen."""
    from scipy.ndimage import gaussian_filter1d

    smooth = gaussian_filter1d(grey, 4.0)
    rise = np.where(np.abs(outward_mm) <= 2.0, -np.gradient(smooth), -np.inf)
    start = int(rise.argmax())
    space = smooth[(outward_mm > outward_mm[start] + 1.2) & (outward_mm < outward_mm[start] + 4.0)]
    below = np.flatnonzero((outward_mm <= outward_mm[start]) & (outward_mm > outward_mm[start] - 5.0))
    if len(space) == 0 or len(below) == 0:
        return None
    top = int(below[smooth[below].argmax()])
    deep = smooth[(outward_mm > outward_mm[top] - 9.0) & (outward_mm < outward_mm[top] - 6.0)]
    if len(deep) == 0:
        return None
    dark, bright, bone = float(space.min()), float(smooth[top]), float(np.median(deep))
    # A band hardly brighter than the bone below it has no lower border.
    if bright - dark <= 0 or bright - bone < 0.1 * (bright - dark):
        return None
    upper = _crossing(outward_mm, smooth, dark + UPPER_LEVEL * (bright - dark), top, 1)
    lower = _crossing(outward_mm, smooth, 0.5 * (bone + bright), top, -1)
    if upper is None or lower is None:
        return None
    return upper, lower


def _crossing(x: Floats, y: Floats, level: float, start: int, step: int) -> float | None:
    """Where a curve first falls below a level, walking from its top; None at its end."""
    place = start
    while 0 <= place + step < len(x):
        if y[place + step] <= level:
            share = (y[place] - level) / (y[place] - y[place + step])
            return float(x[place] + share * (x[place + step] - x[place]))
        place += step
    return None
