"""Traces of drawn tubes, and how far they lie from the drawn walls."""

import numpy as np

from limbwright.film.tracing import Plate, trace_shaft

BLUR_MM = 0.12


def traced(tube, *, offs=(2.0, -2.0), how=None, shares=(0.05, 0.95), **options):
    plate = Plate(grey=tube.film(**(how or {})), row_mm=tube.px_mm, column_mm=tube.px_mm)
    clicks = tuple(tube.click(share, off) for share, off in zip(shares, offs, strict=True))
    return trace_shaft(plate, clicks, blur_mm=BLUR_MM, blur_sd_mm=0.01, **options)


def errors(tube, trace, edge, *, side, half_mm):
    """Distance of found wall points outside the true wall, across the bone. [mm]"""
    points = trace.points_px(edge)
    rows = np.arange(len(tube.centre_mm))
    centre = np.interp(points[:, 1], rows, tube.centre_mm)
    half = np.interp(points[:, 1], rows, half_mm)
    cosine = np.interp(points[:, 1], rows, tube.cosine[:, 0])
    away = (points[:, 0] * tube.px_mm - centre) * cosine
    return (1 if side else -1) * away - half
