"""Where the ankle lies along its joint line, by the outline of tibia, fibula and talus together.

No single edge decides: the mortise is matched as a whole, in both mirror images, so that a malleolus is not
taken for the talus; its middle then comes from the edges of the tibia.
"""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.plate import Floats, Plate

OUTLINE_STEP_MM = 0.15
BANDS_MM = {"above": (5.0, 10.0), "joint": (-0.5, 2.0), "below": (-11.0, -5.0), "tips": (-19.0, -14.0)}
"""Heights above the plafond at which outlines are looked for, in an average adult. [mm]"""
OUTLINES = (
    # Band, place along the joint line (lateral +) in an average adult [mm], whether grey rises toward
    # lateral, weight. Proportions are engineering judgement, as found on phantom films.
    ("above", -26.3, True, 1.0),
    ("above", 22.6, False, 1.0),
    ("above", 30.4, False, 1.0),
    ("joint", -26.5, True, 0.7),
    ("joint", -14.3, True, 1.0),
    ("joint", 31.3, False, 0.7),
    ("below", -26.7, True, 0.7),
    ("below", -15.0, True, 0.7),
    ("below", 32.0, False, 0.7),
    # The lateral malleolus reaches further down than the medial one.
    ("tips", 31.0, False, 0.7),
    ("tips", -26.5, True, -0.7),
)
PAIRS = ((1, 4), (0, 1), (1, 3), (4, 5), (2, 4))
"""Outlines between which the middle of the ankle lies, in the proportion of their places."""
HALF_PLAFOND_MM = 13.5
"""Half width of the plafond of an average adult. [mm]"""
WIDTHS = np.arange(0.5, 1.36, 0.02)
"""Widths of ankles looked for, as a share of an average adult's."""
LEAST_SHARE = 0.55
"""Share of the outlines that has to be seen; engineering judgement."""
FOUND_SD_MM = 0.15
"""Standard uncertainty of the middle where the outlines agree; engineering judgement, as found on phantom
films."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundAnkle:
    """Place of an ankle along its joint line, from the first end; plate millimetres."""

    middle_mm: float
    """Its middle."""
    middle_sd_mm: float
    """Standard uncertainty of the middle."""
    half_mm: float
    """Half width of its plafond."""


def find_ankle(plate: Plate, ends_mm: Floats) -> FoundAnkle | None:
    """Find the ankle on a joint line whose ends were clicked roughly.

    Parameters
    ----------
    plate : Plate
        The film.
    ends_mm : (2, 2) float
        Ends of the joint line, the viewer's left one first. [plate mm]

    Returns
    -------
    FoundAnkle or None
        None where too few outlines are seen.
    """
    away = ends_mm[1] - ends_mm[0]
    length = float(np.hypot(*away))
    along = away / length
    width = length / (2.0 * HALF_PLAFOND_MM)
    reach = 1.4 * 33.0 * width + 8.0
    at = np.arange(0.5 * length - reach, 0.5 * length + reach, OUTLINE_STEP_MM)
    found: FoundAnkle | None = None
    for _ in range(2):
        slopes = {
            band: outline_slope(plate, ends_mm[0], along, at, heights_mm=(width * low, width * high))
            for band, (low, high) in BANDS_MM.items()
        }
        match = _matched(at, slopes, middle=0.5 * length, width=width)
        if match is None:
            return None
        found, width = _middle(at, slopes, *match), match[1]
    return found


def outline_slope(
    plate: Plate, start: Floats, along: Floats, at: Floats, *, heights_mm: tuple[float, float]
) -> Floats:
    """Slope of the grey along a joint line, averaged over a band of heights above it.

    Parameters
    ----------
    plate : Plate
        The film.
    start, along : (2,) float
        A point of the line, and its direction toward the viewer's right. [plate mm]
    at : (n,) float
        Places along it, `OUTLINE_STEP_MM` apart.
    heights_mm : tuple of float
        Lowest and highest place of the band above the line; negative below it.

    Returns
    -------
    (n,) float
        As a share of the strongest edges of bone there; the edge of the skin counts little.
    """
    from scipy.ndimage import gaussian_filter1d, minimum_filter1d

    height = np.linspace(*heights_mm, 16)[:, None]
    grey, usable = plate.sampled(
        start[0] + at * along[0] + height * along[1], start[1] + at * along[1] - height * along[0]
    )
    line = np.median(grey, axis=0).astype(np.float64)
    slope = gaussian_filter1d(line, 0.5 / OUTLINE_STEP_MM, order=1)
    # An edge to air is that of the skin.
    dark, bright = float(line.min()), float(np.quantile(line, 0.9))
    beside = minimum_filter1d(line, round(2.2 / OUTLINE_STEP_MM))
    slope *= np.clip((beside - dark) / max(0.15 * (bright - dark), 1e-9), 0.0, 1.0)
    slope[~usable.all(axis=0)] = 0.0
    return np.asarray(slope / max(float(np.sort(np.abs(slope))[-20]), 1e-9))


def _matched(
    at: Floats, slopes: dict[str, Floats], *, middle: float, width: float
) -> tuple[float, float, bool] | None:
    """Middle, width and whether lateral is at the second end, where most outlines fall on edges."""
    from scipy.ndimage import maximum_filter1d

    size = max(3, round(2.4 * width / OUTLINE_STEP_MM))
    rising = {band: maximum_filter1d(np.clip(s, 0.0, 1.0), size) for band, s in slopes.items()}
    falling = {band: maximum_filter1d(np.clip(-s, 0.0, 1.0), size) for band, s in slopes.items()}
    middles = middle + np.arange(-5.5, 5.6, 0.3)
    widths = WIDTHS[np.abs(np.log(WIDTHS / width)) < np.log(1.42)]
    if len(widths) == 0:
        return None
    total = sum(weight for *_, weight in OUTLINES if weight > 0)
    best: tuple[float, float, float, bool] | None = None
    for lateral_second in (False, True):
        score = np.zeros((len(middles), len(widths)))
        for band, place, rises, weight in OUTLINES:
            sign = 1.0 if lateral_second else -1.0
            where = middles[:, None] + sign * place * widths[None, :]
            score += weight * np.interp(where, at, (rising if rises == lateral_second else falling)[band])
        # Clicks are rough, not arbitrary.
        score -= 0.5 * (np.log(widths / width) / np.log(1.3))[None, :] ** 2
        score -= 0.3 * ((middles - middle) / 4.0)[:, None] ** 2
        top = np.unravel_index(int(score.argmax()), score.shape)
        height = float(score[top]) / total
        if best is None or height > best[0]:
            best = height, float(middles[top[0]]), float(widths[top[1]]), lateral_second
    if best is None or best[0] < LEAST_SHARE:
        return None
    return best[1], best[2], best[3]


def _middle(
    at: Floats, slopes: dict[str, Floats], middle: float, width: float, lateral_second: bool
) -> FoundAnkle:
    """The middle between pairs of outlines, each placed on its own edge."""
    sign = 1.0 if lateral_second else -1.0
    places: list[float | None] = []
    for band, place, rises, _ in OUTLINES:
        slope = slopes[band] if rises == lateral_second else -slopes[band]
        near = np.flatnonzero(np.abs(at - middle - sign * place * width) <= 2.2 * width)
        top = int(near[slope[near].argmax()]) if len(near) else 0
        places.append(float(at[top]) if len(near) and slope[top] > 0.2 else None)
    middles = []
    for one, other in PAIRS:
        first, second = places[one], places[other]
        if first is None or second is None:
            continue
        a, b = OUTLINES[one][1], OUTLINES[other][1]
        middles.append((b * first - a * second) / (b - a))
    if not middles:
        return FoundAnkle(middle_mm=middle, middle_sd_mm=1.5, half_mm=HALF_PLAFOND_MM * width)
    spread = (
        1.4826 * float(np.median(np.abs(np.array(middles) - np.median(middles)))) if len(middles) > 2 else 0.8
    )
    return FoundAnkle(
        middle_mm=float(np.median(middles)),
        middle_sd_mm=float(np.hypot(FOUND_SD_MM, spread / np.sqrt(len(middles)))),
        half_mm=HALF_PLAFOND_MM * width,
    )
