"""Small films drawn from formulas, so that every edge is known exactly: tubes, balls, rods, heads, joints."""

import numpy as np
from scipy.ndimage import gaussian_filter

CORTEX, SOFT, TITANIUM, STEEL = 0.058, 0.024, 0.5, 1.66
"""Attenuation above soft tissue; of soft tissue. [1/mm]"""


def chord(distance, radius):
    """Path through a round body whose axis passes at a distance."""
    return 2.0 * np.sqrt(np.clip(radius**2 - distance**2, 0.0, None))


def developed(attenuation, *, blur_px=0.6, photons=0.0, seed=0, high=6.0, power=1.0, white=16383):
    """Light is blurred and counted, then shown as attenuation through a curve. Bright is dense."""
    light = gaussian_filter(np.exp(-attenuation), blur_px)
    if photons:
        rng = np.random.Generator(np.random.PCG64(seed))
        light = light + rng.standard_normal(light.shape) * np.sqrt(light / photons)
    grey = white * np.clip(-np.log(np.clip(light, 1e-6, None)) / high, 0.0, 1.0) ** power
    return np.rint(grey).astype(np.uint16)


class Tube:
    """A shaft down the film: outer and inner half width by row, centre by row, in millimetres."""

    def __init__(
        self,
        *,
        rows=700,
        columns=500,
        px_mm=0.2,
        outer_mm=13.0,
        inner_mm=6.0,
        waist_mm=0.0,
        bow_mm=0.0,
        lean_deg=0.0,
        nail_mm=0.0,
        cortex=CORTEX,
        fibula_at_mm=None,
        soft_mm=60.0,
    ):
        self.px_mm = px_mm
        y = np.arange(rows) * px_mm
        share = y / y[-1]
        self.centre_mm = (
            columns * px_mm / 2
            + np.tan(np.radians(lean_deg)) * (y - y.mean())
            + 4 * bow_mm * share * (1 - share)
        )
        self.outer_mm = np.broadcast_to(np.asarray(outer_mm, float), y.shape)
        self.inner_mm = inner_mm - waist_mm * np.exp(-(((share - 0.5) / 0.18) ** 2))
        x = np.arange(columns) * px_mm
        away = x[None, :] - self.centre_mm[:, None]
        # A leaning tube is cut obliquely by a row: distances from its axis are shorter by the cosine.
        slope = np.gradient(self.centre_mm, px_mm)[:, None]
        self.cosine = 1.0 / np.sqrt(1.0 + slope**2)
        across = away * self.cosine
        total = SOFT * chord(x - columns * px_mm / 2, soft_mm)[None, :] + 0.0 * across
        total = total + cortex * (
            chord(across, self.outer_mm[:, None]) - chord(across, self.inner_mm[:, None])
        )
        if nail_mm:
            total = total + TITANIUM * chord(across, nail_mm / 2)
        if fibula_at_mm is not None:
            beside = across - fibula_at_mm
            total = total + cortex * (chord(beside, 6.5) - chord(beside, 3.0))
        self.attenuation = total

    def film(self, **how):
        return developed(self.attenuation, **how)

    def click(self, share, off_mm=0.0):
        """A click at a share of the length, off the middle."""
        row = round(share * (len(self.centre_mm) - 1))
        return (self.centre_mm[row] + off_mm) / self.px_mm, float(row)


def ball(*, side_px=360, px_mm=0.143, radius_mm=12.9, centre_px=(180.3, 176.8), behind=0.02):
    """A steel ball before a background that rises to one side."""
    row, column = np.mgrid[0:side_px, 0:side_px].astype(float)
    away = np.hypot(column - centre_px[0], row - centre_px[1]) * px_mm
    return STEEL * chord(away, radius_mm) + 0.25 + behind * column * px_mm


def head(*, side_px=460, px_mm=0.2, radius_mm=24.0, centre_px=(226.4, 235.1)):
    """A ball of spongy bone with a shell, a neck to one side, and a bright roof above."""
    row, column = np.mgrid[0:side_px, 0:side_px].astype(float)
    x, y = (column - centre_px[0]) * px_mm, (row - centre_px[1]) * px_mm
    away = np.hypot(x, y)
    total = 2.0 + CORTEX * chord(away, radius_mm) - 0.045 * chord(away, radius_mm - 1.2)
    along, across = -x * 0.77 + y * 0.64, x * 0.64 + y * 0.77
    neck = 0.012 * chord(across, 15.0) * (along > 0)
    roof = 0.5 * np.exp(-(((away - radius_mm - 6.0) / 1.2) ** 2)) * (y < -8)
    return total + neck + roof


def joint(*, rows=300, columns=600, px_mm=0.2, tilt_deg=0.0):
    """Two round condyles above a flat plateau; rows of their lowest points and of the plateau's edge."""
    row, column = np.mgrid[0:rows, 0:columns].astype(float)
    x, y = (column - columns / 2) * px_mm, (row - rows / 2) * px_mm
    turn = np.radians(tilt_deg)
    u, v = x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)
    total = np.full(row.shape, 1.5)
    for centre in (-23.0, 23.0):
        total = total + CORTEX * 0.6 * chord(np.hypot(u - centre, v + 26.0), 24.0)
    plateau = np.clip((v - 4.0) / 0.6, 0.0, 1.0) * (np.abs(u) < 38.0)
    return total + 0.7 * plateau
