"""Width of new bone against the bone beside it."""

import numpy as np

from limbwright.film.new_bone.field import GapField
from limbwright.film.tracing.plate import Floats
from limbwright.film.tracing.shaft import FILTER_MM
from limbwright.film.tracing.wall import trace_edge
from limbwright.quantity import Measured


def new_bone_width(field: GapField, cuts: tuple[float, float]) -> tuple[Measured | None, bool]:
    """Narrowest width over the bone's width, and whether both borders are drawn in."""
    strip, depth = field.strip, field.strip.depth_mm
    slope = strip.slope(0.8)
    edges = []
    for sign, wall in ((-1.0, field.left_outer), (1.0, field.right_outer)):
        gain = np.where(field.metal, np.float32(0.0), np.asarray(-sign * slope, dtype=np.float32))
        # As far in as the middle, or to the nail.
        inward = np.minimum(
            0.42 * (field.right_outer - field.left_outer), _room_beside_metal(field, sign, wall)
        )
        outward = np.full_like(wall, 8.0)
        edges.append(
            trace_edge(
                strip,
                np.asarray(gain, dtype=np.float32),
                around_mm=wall,
                reach_mm=(outward, inward) if sign < 0 else (inward, outward),
                outward=sign,
                sigma_mm=float(np.hypot(0.8, FILTER_MM)),
                sigma_sd_mm=0.1,
                least_contrast=0.0,
                stiffness=0.03,
                softness_mm=0.2,
                pinned={},
            )
        )
    width = edges[1].offset_mm - edges[0].offset_mm
    sd = np.hypot(edges[0].sd_mm, edges[1].sd_mm)
    host_rows = ((depth < cuts[0] - 2.0) & (depth > cuts[0] - 8.0)) | (
        (depth > cuts[1] + 2.0) & (depth < cuts[1] + 8.0)
    )
    host = float(np.median((field.right_outer - field.left_outer)[host_rows]))
    length = cuts[1] - cuts[0]
    core = (depth > cuts[0] + 0.2 * length) & (depth < cuts[1] - 0.2 * length) & np.isfinite(width)
    if core.sum() < 3:
        return None, False
    ratio = width[core] / host
    # A bulge is told by its widest place, a waist by its narrowest.
    middle = float(np.median(ratio))
    chosen = float(np.quantile(ratio, 0.9)) if middle > 1.0 else float(np.quantile(ratio, 0.1))
    left = np.nanmedian((edges[0].offset_mm - field.left_outer)[core]) / host
    right = np.nanmedian((field.right_outer - edges[1].offset_mm)[core]) / host
    spread = float(np.nanmedian(sd[core]) / host + 0.01)
    return Measured(value=chosen, sd=spread, unit="1"), bool(min(left, right) > 0.1)


def _room_beside_metal(field: GapField, sign: float, wall: Floats) -> Floats:
    """Distance from a wall inward to the nearest metal, at every depth. [mm]"""
    away = sign * (wall[:, None] - field.strip.offset_mm[None, :])
    room = np.where(field.metal & (away > 0), away, np.inf).min(axis=1)
    return np.asarray(np.maximum(room - 0.8, 0.3))
