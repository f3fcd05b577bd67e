"""Both cortices of a shaft from a few rough clicks."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.tracing.candidate import Outline, find_outline
from limbwright.film.tracing.guide import Guide, guide_through, through_curve
from limbwright.film.tracing.plate import Floats, Image, Mask, Plate, Point
from limbwright.film.tracing.strip import Strip, straightened
from limbwright.film.tracing.wall import EdgeTrace, smoothed, trace_edge
from limbwright.limb.view import Surface

FILTER_MM = 0.30
"""Standard deviation of the filter that finds edges; engineering judgement. [mm]"""
USUAL_BLUR_MM = 0.10
"""Blur of a film on which it was not measured; engineering judgement. [mm]"""
USUAL_BLUR_SD_MM = 0.04
INNER_SOFTNESS_MM = 0.09
"""The endosteum carries spongy bone and ends less sharply than the periosteum; engineering judgement, as
found on phantom films. [mm]"""
SPONGY_RIM_MM = 0.065
"""How far inside the endosteum its steepest grey lies beyond what blur explains, because spongy bone thickens
toward it; engineering judgement, as found on phantom films. [mm]"""
RIVAL_MM = 0.9
"""Distance from which another inner edge is not the same one: spongy bone, or a fibula in front. [mm]"""
INNER_SHARE = 0.17
"""Slope of an inner edge, as a share of the outer edge's, below which it is not told
from spongy bone beside it;
engineering judgement, as seen on a real film on which an endosteum fades."""
PLAIN_LENGTH_MM = 40.0
"""Length of a trace below which it says less: a short piece of an edge can be anything; engineering
judgement. [mm]"""
LARGEST_HALF_WIDTH_MM = 46.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A point of a wall that the reader has set; the trace goes through it."""

    x_px: float
    """Column [px]."""
    y_px: float
    """Row [px]."""
    surface: Surface
    """Inner or outer edge."""
    viewer_left: bool
    """Whether it is the edge at the viewer's left."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class NailEdges:
    """Edges of a nail in the canal, by the depths of the trace; offsets from the guide."""

    left_mm: Floats
    """Viewer's left edge, NaN where there is no nail."""
    right_mm: Floats
    """Viewer's right edge."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ShaftTrace:
    """Both cortices of a stretch of shaft; all lengths in the plate's millimetres."""

    guide: Guide
    """The bone's own rough middle line: depth 0 at its proximal end, offsets at right angles to it."""
    depth_mm: Floats
    """Depths at which everything is given, 1 mm apart. Shape (n,)."""
    outer: tuple[EdgeTrace, EdgeTrace]
    """Periosteal edges, viewer's left first."""
    inner: tuple[EdgeTrace, EdgeTrace]
    """Endosteal edges, viewer's left first."""
    nail: NailEdges | None
    """Nail in the canal, if there is one."""
    hidden: Mask
    """Depths at which a screw or a seam hides the walls."""
    support: float
    """How well the film shows the outer walls, 0 to 1: share found, less where another pair came near,
    and less for a trace under 40 mm."""
    blur_mm: float
    """Blur of film and filter together that was corrected for [mm]."""
    row_mm: float
    """Height of a pixel of the plate [mm]."""
    column_mm: float
    """Width of a pixel of the plate [mm]."""

    def edge(self, surface: Surface) -> tuple[EdgeTrace, EdgeTrace]:
        """Both edges of one surface, viewer's left first."""
        return self.outer if surface is Surface.OUTER else self.inner

    def points_px(self, edge: EdgeTrace) -> Floats:
        """Film pixels of an edge where it was found. Shape (k, 2), columns column and row."""
        keep = edge.found
        x, y = self.guide.at(self.depth_mm[keep], edge.offset_mm[keep])
        return np.stack([x / self.column_mm, y / self.row_mm], axis=1)

    def not_found(self, edge: EdgeTrace) -> tuple[tuple[float, float], ...]:
        """Stretches of depth, from and to, over which the film does not show an edge. [mm]"""
        missing = np.flatnonzero(~edge.found)
        if len(missing) == 0:
            return ()
        parts = np.split(missing, np.flatnonzero(np.diff(missing) > 1) + 1)
        return tuple((float(self.depth_mm[p[0]]), float(self.depth_mm[p[-1]])) for p in parts)


def trace_shaft(
    plate: Plate,
    clicks_px: tuple[Point, ...],
    *,
    blur_mm: float | None = None,
    blur_sd_mm: float | None = None,
    pins: tuple[Pin, ...] = (),
) -> ShaftTrace:
    """Trace both cortices between the first and the last of a few rough clicks.

    Parameters
    ----------
    plate : Plate
        The film.
    clicks_px : tuple of points
        Two or three clicks (up to twelve) in the shaft from proximal to distal, each up to about 5 mm
        from its
        middle; more help where a bone is bent.
    blur_mm, blur_sd_mm : float, optional
        Blur of the film in the plate's millimetres, as the ball or a metal edge shows it; a usual film's
        with a wider uncertainty unless given.
    pins : tuple of Pin
        Points of walls the reader has set.

    Raises
    ------
    Refused
        Where no pair of edges that could bound a bone is to be seen.

    Notes
    -----
    The film is straightened along the clicks. A coarse look decides which pair of edges bounds the bone and
    whether a nail lies in it; the guide is then laid down the bone's own middle, and each edge is followed as
    the path of steepest grey with a cost for sideways steps, placed between pixels by a parabola and moved
    outward by 0.765 times the blur (see `wall.SQUARE_ROOT_EDGE`).
    """
    pixel = plate.pixel_mm
    guide = guide_through(plate, clicks_px)
    coarse, outline = _coarse(plate, guide)
    guide = _centred(guide, coarse, outline)
    coarse_left = np.interp(guide.depth_mm, coarse.depth_mm, outline.left.offset_mm)
    coarse_right = np.interp(guide.depth_mm, coarse.depth_mm, outline.right.offset_mm)
    half = 0.5 * (coarse_right - coarse_left)
    reach = float(half.max()) + 5.0
    strip = straightened(
        plate,
        guide,
        low_mm=-reach,
        high_mm=reach,
        offset_step_mm=max(pixel, 0.1),
        depth_step_mm=1.0,
        averaged_mm=2.0,
    )
    half = np.interp(strip.depth_mm, guide.depth_mm, half)
    film_blur = USUAL_BLUR_MM if blur_mm is None else blur_mm
    film_blur_sd = USUAL_BLUR_SD_MM if blur_mm is None else (blur_sd_mm or 0.1 * film_blur)
    # Reading between pixels blurs by pixel/sqrt(6): a triangle of half width one pixel.
    sigma = float(np.sqrt(FILTER_MM**2 + film_blur**2 + pixel**2 / 6.0))
    sigma_sd = film_blur * film_blur_sd / sigma + 0.01
    slope = strip.slope(FILTER_MM)
    nail = _nail_edges(strip, slope, outline, coarse, half)
    hidden = _hidden_rows(strip, half, nail)
    noise = _slope_noise(strip, slope, half)
    pinned = _pinned(strip, guide, plate, pins)
    outer: list[EdgeTrace] = []
    inner: list[EdgeTrace] = []
    # Rows are averaged along the shaft: a little less than white is burnt out in part.
    burnt_out = strip.grey >= 0.995 * plate.burnt_out_from()
    usable = np.where(hidden[:, None], np.float32(0.0), np.float32(1.0))
    for side, sign in ((0, -1.0), (1, 1.0)):
        edge = trace_edge(
            strip,
            np.asarray(-sign * slope * usable, dtype=np.float32),
            around_mm=sign * half,
            reach_mm=(np.full_like(half, 3.5), np.full_like(half, 3.5)),
            outward=sign,
            sigma_mm=sigma,
            sigma_sd_mm=sigma_sd,
            least_contrast=4.0 * noise,
            stiffness=0.06,
            softness_mm=0.03,
            pinned=pinned.get((side, Surface.OUTER), {}),
        )
        outer.append(edge)
    for side, sign in ((0, -1.0), (1, 1.0)):
        place = _filled(strip.depth_mm, outer[side].offset_mm, sign * half)
        other = _filled(strip.depth_mm, outer[1 - side].offset_mm, -sign * half)
        width = np.abs(place - other)
        deepest = np.clip(0.46 * width, 1.5, None)
        if nail is not None:
            beside = nail.left_mm if side == 0 else nail.right_mm
            metal = np.where(np.isfinite(beside), np.abs(place - beside) - 0.6 * FILTER_MM, np.inf)
            deepest = np.minimum(deepest, np.maximum(metal, 0.9))
        inner.append(
            trace_edge(
                strip,
                np.asarray(sign * slope * usable, dtype=np.float32),
                around_mm=place,
                reach_mm=(
                    (deepest, np.full_like(half, -0.8)) if sign > 0 else (np.full_like(half, -0.8), deepest)
                ),
                outward=sign,
                sigma_mm=sigma,
                sigma_sd_mm=sigma_sd,
                least_contrast=max(
                    4.0 * noise, INNER_SHARE * float(np.median(outer[side].contrast[outer[side].found]))
                )
                if outer[side].found.any()
                else 4.0 * noise,
                stiffness=0.10,
                softness_mm=INNER_SOFTNESS_MM,
                beyond_mm=SPONGY_RIM_MM,
                smoothed_half_mm=12.0,
                steadied_rows=7,
                burnt_out=burnt_out,
                rival_mm=RIVAL_MM,
                pinned=pinned.get((side, Surface.INNER), {}),
            )
        )
    share = min(edge.share_found for edge in outer)
    return ShaftTrace(
        guide=guide,
        depth_mm=strip.depth_mm,
        outer=(outer[0], outer[1]),
        inner=(inner[0], inner[1]),
        nail=nail,
        hidden=hidden,
        support=float(
            share
            * (1.0 - 0.5 * max(0.0, outline.rivals - 0.6) / 0.4)
            * min(1.0, float(strip.depth_mm[-1]) / PLAIN_LENGTH_MM)
            * (0.6 if nail is None and _one_sided(inner) else 1.0)
        ),
        blur_mm=sigma,
        row_mm=plate.row_mm,
        column_mm=plate.column_mm,
    )


def _coarse(plate: Plate, guide: Guide) -> tuple[Strip, Outline]:
    strip = straightened(
        plate,
        guide,
        low_mm=-LARGEST_HALF_WIDTH_MM,
        high_mm=LARGEST_HALF_WIDTH_MM,
        offset_step_mm=max(0.4, plate.pixel_mm),
        depth_step_mm=4.0,
        averaged_mm=4.0,
    )
    outline = find_outline(strip, centred_mm=4.5)
    if outline is None:
        raise Refused(
            "no two edges that could bound a bone are to be seen.",
            where="shaft between the clicks",
            next_step="Click in the middle of the shaft at both ends, or mark its walls by hand.",
        )
    return strip, outline


def _centred(guide: Guide, coarse: Strip, outline: Outline) -> Guide:
    """The guide laid down the middle between the coarse edges."""
    depth = coarse.depth_mm
    middle = 0.5 * (outline.left.offset_mm + outline.right.offset_mm)
    half = max(30.0, 0.2 * float(depth[-1]))
    smooth, _ = smoothed(depth, middle, np.ones(len(depth), dtype=bool), half_mm=half)
    smooth = np.where(np.isfinite(smooth), smooth, middle)
    fine = guide.depth_mm
    x, y = guide.at(fine, np.interp(fine, depth, smooth))
    return through_curve(np.stack([x, y], axis=1), fine, step_mm=1.0)


def _one_sided(inner: list[EdgeTrace]) -> bool:
    """Whether a canal shows one wall and nothing of the other: then one outer edge is not this bone's."""
    shares = sorted(edge.share_found for edge in inner)
    return shares[0] < 0.1 and shares[1] > 0.6


def _filled(depth_mm: Floats, offset_mm: Floats, otherwise: Floats) -> Floats:
    known = np.isfinite(offset_mm)
    if known.sum() < 2:
        return otherwise
    return np.asarray(np.interp(depth_mm, depth_mm[known], offset_mm[known]))


def _nail_edges(
    strip: Strip, slope: Image, outline: Outline, coarse: Strip, half: Floats
) -> NailEdges | None:
    if outline.nail is None:
        return None
    edges = []
    middle = 0.5 * (outline.left.offset_mm + outline.right.offset_mm)
    for sign, edge in zip((-1.0, 1.0), outline.nail, strict=True):
        around = np.interp(strip.depth_mm, coarse.depth_mm, edge.offset_mm - middle)
        gain = np.asarray(-sign * slope, dtype=np.float32)
        outside = np.abs(strip.offset_mm[None, :] - around[:, None]) > 1.6
        found = np.where(outside, 0.0, gain).argmax(axis=1)
        height = gain[np.arange(len(found)), found]
        offset = strip.offset_mm[found]
        edges.append(np.where(height > 0.35 * np.median(height), offset, np.nan))
    there = np.isfinite(edges[0]) & np.isfinite(edges[1])
    return NailEdges(left_mm=np.where(there, edges[0], np.nan), right_mm=np.where(there, edges[1], np.nan))


def _hidden_rows(strip: Strip, half: Floats, nail: NailEdges | None) -> Mask:
    """Rows that a screw crosses: much brighter along both walls than the rows around."""
    from scipy.ndimage import binary_dilation, median_filter

    hidden = np.zeros(len(half), dtype=bool)
    rows = np.arange(len(half))
    for sign in (-1.0, 1.0):
        bands = []
        for aside in (-2.0, 1.5):
            column = np.rint(strip.column_of(sign * (half + aside))).astype(np.intp)
            bands.append(strip.grey[rows, np.clip(column, 0, len(strip.offset_mm) - 1)].astype(np.float64))
        bone, soft = bands
        contrast = max(float(np.median(bone - soft)), 1e-9)
        for band in bands:
            around = median_filter(band, size=41, mode="nearest")
            hidden |= band - around > 0.8 * contrast
    return np.asarray(binary_dilation(hidden, np.ones(5, dtype=bool)))


def _slope_noise(strip: Strip, slope: Image, half: Floats) -> float:
    """Scatter of the slope between neighbouring rows: noise without anatomy."""
    inside = np.abs(strip.offset_mm)[None, :] < half[1:, None]
    difference = np.diff(slope, axis=0)[inside]
    if len(difference) == 0:
        return 0.0
    return float(1.4826 * np.median(np.abs(difference - np.median(difference))) / np.sqrt(2.0))


def _pinned(
    strip: Strip, guide: Guide, plate: Plate, pins: tuple[Pin, ...]
) -> Mapping[tuple[int, Surface], dict[int, float]]:
    """Row and offset of each pin, by side and surface."""
    found: dict[tuple[int, Surface], dict[int, float]] = {}
    for pin in pins:
        x, y = pin.x_px * plate.column_mm, pin.y_px * plate.row_mm
        row = int(np.argmin(np.hypot(guide.x_mm - x, guide.y_mm - y)))
        offset = (x - guide.x_mm[row]) * guide.normal_x[row] + (y - guide.y_mm[row]) * guide.normal_y[row]
        if row < len(strip.depth_mm):
            found.setdefault((0 if pin.viewer_left else 1, pin.surface), {})[row] = float(offset)
    return found
