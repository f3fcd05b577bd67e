"""The film along a shaft, straightened: rows down the guide, columns across it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.tracing.guide import Guide
from limbwright.film.tracing.plate import Floats, Image, Mask, Plate


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Strip:
    """Grey values by depth and offset."""

    guide: Guide
    """What it was straightened along."""
    depth_mm: Floats
    """Of each row, shape (n,)."""
    offset_mm: Floats
    """Of each column, evenly spaced, viewer's right +. Shape (m,)."""
    grey: Image
    """Shape (n, m)."""
    usable: Mask
    """Shape (n, m)."""

    @property
    def offset_step_mm(self) -> float:
        """Distance of neighbouring columns [mm]."""
        return float(self.offset_mm[1] - self.offset_mm[0])

    def slope(self, sigma_mm: float) -> Image:
        """Grey per millimetre toward offset +, by the derivative of a Gaussian; 0 where unusable."""
        from scipy.ndimage import gaussian_filter1d

        slope: NDArray[np.float32] = gaussian_filter1d(
            self.grey, sigma_mm / self.offset_step_mm, axis=1, order=1, mode="nearest", truncate=3.5
        )
        slope = slope / np.float32(self.offset_step_mm)
        if not self.usable.all():
            slope = np.where(self.usable, slope, np.float32(0.0))
        return slope

    def column_of(self, offset_mm: Floats) -> Floats:
        """Fractional column of an offset."""
        return np.asarray((offset_mm - self.offset_mm[0]) / self.offset_step_mm)


def straightened(
    plate: Plate,
    guide: Guide,
    *,
    low_mm: float,
    high_mm: float,
    offset_step_mm: float,
    depth_step_mm: float,
    averaged_mm: float,
) -> Strip:
    """Sample a strip along a guide.

    Parameters
    ----------
    low_mm, high_mm : float
        First and last offset; the viewer's right is +.
    offset_step_mm, depth_step_mm : float
        Spacing of the samples.
    averaged_mm : float
        Length over which rows are averaged along the shaft.
    """
    from scipy.ndimage import uniform_filter1d

    offset = np.arange(low_mm, high_mm + 0.5 * offset_step_mm, offset_step_mm)
    every = max(1, round(averaged_mm / depth_step_mm))
    # Rows between the wanted ones, so that averaging really averages different pixels.
    between = 2 if every == 1 and averaged_mm > 0 else 1
    fine = np.arange(0.0, guide.length_mm + 1e-6, depth_step_mm / between)
    x, y = guide.at(fine[:, None], offset[None, :])
    grey, usable = plate.sampled(x, y)
    size = max(1, round(averaged_mm * between / depth_step_mm))
    if size > 1:
        grey = uniform_filter1d(grey, size, axis=0, mode="nearest")
    return Strip(
        guide=guide,
        depth_mm=fine[::between],
        offset_mm=offset,
        grey=np.asarray(grey[::between], dtype=np.float32),
        usable=np.asarray(usable[::between], dtype=np.bool_),
    )
