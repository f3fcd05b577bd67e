"""From attenuation to a film: scatter, heel effect, noise, blur, presentation curve, stitching seams."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.ray import seam_rows
from limbwright.film.phantom.setting import XraySetup
from limbwright.quantity import Value

Image = NDArray[np.float32]
SCATTER_REACH_MM = 45.0
"""Standard deviation of the spread of scattered light at the detector; engineering judgement. [mm]"""
SEAM_GAIN = 0.025
"""Difference in attenuation shown by every second exposure of a stitched film; engineering judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Presentation(Value):
    """How attenuation became pixel values, so that a reader can go back.

    Attenuation is -ln(signal / open field), scatter and filter included; shade is
    `(attenuation - low) / (high - low)`, cut off at 0 and 1; pixel is `white * shade ** power`, rounded.
    """

    low: float
    """Attenuation shown as black."""
    high: float
    """Attenuation shown as white."""
    power: float
    """Power of the curve; 1 is linear in attenuation."""
    white: int
    """Largest pixel value."""

    def pixel(self, attenuation: Image) -> Image:
        """Pixel values before rounding."""
        shade = np.clip((attenuation - np.float32(self.low)) / np.float32(self.high - self.low), 0.0, 1.0)
        np.power(shade, np.float32(self.power), out=shade)
        return np.asarray(shade * np.float32(self.white), dtype=np.float32)

    def attenuation(self, pixel: NDArray[np.uint16]) -> NDArray[np.float64]:
        """Attenuation of pixel values, exact but for rounding where neither black nor white."""
        shade = (np.asarray(pixel, dtype=np.float64) / self.white) ** (1.0 / self.power)
        return np.asarray(self.low + shade * (self.high - self.low))


def _shrunk(image: Image, factor: int) -> Image:
    rows, columns = (size // factor * factor for size in image.shape)
    blocks = image[:rows, :columns].reshape(rows // factor, factor, columns // factor, factor)
    return np.asarray(blocks.mean(axis=(1, 3)), dtype=np.float32)


def _grown_rows(small: Image, shape: tuple[int, int], factor: int) -> Callable[[int], Image]:
    """Bilinear enlargement, one row at a time, so that no second full image is needed."""
    rows = np.clip((np.arange(shape[0]) + 0.5) / factor - 0.5, 0, small.shape[0] - 1)
    columns = np.clip((np.arange(shape[1]) + 0.5) / factor - 0.5, 0, small.shape[1] - 1)
    low = np.minimum(columns.astype(int), max(small.shape[1] - 2, 0))
    share = (columns - low).astype(np.float32)
    high = np.minimum(low + 1, small.shape[1] - 1)
    wide = small[:, low] * (1 - share) + small[:, high] * share

    def row(number: int) -> Image:
        first = min(int(rows[number]), max(small.shape[0] - 2, 0))
        part = np.float32(rows[number] - first)
        second = min(first + 1, small.shape[0] - 1)
        return np.asarray(wide[first] * (1 - part) + wide[second] * part, dtype=np.float32)

    return row


def blur_sd_mm(setup: XraySetup) -> float:
    """Standard deviation of the whole system's blur at the detector, for the plane of the bones. [mm]"""
    penumbra = setup.detector.focal_spot_mm * (setup.magnification - 1.0)
    # A uniform focal spot of width f has a standard deviation of f / sqrt(12).
    return float(np.hypot(setup.detector.blur_mm, penumbra / np.sqrt(12.0)))


def exposed(
    attenuation: Image, setup: XraySetup, rng: np.random.Generator, *, high: float | None = None
) -> tuple[NDArray[np.uint16], Presentation]:
    """Expose and develop a film. `attenuation` is used up: its memory is worked in.

    Parameters
    ----------
    attenuation : (rows, columns) float32
        Attenuation times path length along each ray, textures included.
    setup : XraySetup
        Detector, noise, presentation.
    rng : numpy.random.Generator
        Source of noise.
    high : float, optional
        Attenuation shown as white; the film's own brightest hundredth unless given.
    """
    detector = setup.detector
    image = attenuation
    starts = (0, *seam_rows(setup))
    for number, (first, last) in enumerate(zip(starts, (*starts[1:], image.shape[0]), strict=True)):
        _expose(image[first:last], setup, rng)
        # The gains of two exposures are never quite the same.
        if number % 2:
            image[first:last] += np.float32(SEAM_GAIN)
    sample = image[::4, ::4]
    top = float(np.quantile(sample, 0.992)) if high is None else high
    presentation = Presentation(
        low=0.06, high=max(top, 0.5), power=detector.curve_power, white=2**detector.bits - 1
    )
    pixels = np.empty(image.shape, dtype=np.uint16)
    for start in range(0, image.shape[0], 512):
        block = presentation.pixel(image[start : start + 512])
        pixels[start : start + 512] = np.rint(block)
    pixels.flags.writeable = False
    return pixels, presentation


def _expose(image: Image, setup: XraySetup, rng: np.random.Generator) -> None:
    """One exposure, in place: attenuation becomes attenuation as the detector sees it."""
    from scipy.ndimage import gaussian_filter

    detector = setup.detector
    row = np.arange(image.shape[0], dtype=np.float32)
    fall = np.log1p(-np.float32(detector.heel_effect) * (row + 0.5) / image.shape[0])
    filtered = np.float32(detector.compensation_per_mm * detector.pixel_mm) * row
    np.negative(image, out=image)
    image += (fall - filtered)[:, None]
    np.exp(image, out=image)
    _add_scatter(image, setup)
    sigma = blur_sd_mm(setup) / detector.pixel_mm
    if sigma > 0.2:
        gaussian_filter(image, sigma, output=image, truncate=3.0)
    _add_noise(image, setup, rng)
    np.maximum(image, np.float32(1e-5), out=image)
    np.log(image, out=image)
    np.negative(image, out=image)


def _add_scatter(image: Image, setup: XraySetup) -> None:
    from scipy.ndimage import gaussian_filter

    if setup.detector.scatter_fraction <= 0:
        return
    factor = max(1, round(4.0 / setup.detector.pixel_mm))
    small = _shrunk(image, factor)
    # Scatter is made where the beam is weakened but not yet used up: p (1 - p), largest at one half.
    made = np.asarray(4.0 * small * (1.0 - np.clip(small, 0.0, 1.0)), dtype=np.float32)
    spread = gaussian_filter(made, SCATTER_REACH_MM / (factor * setup.detector.pixel_mm), mode="nearest")
    row = _grown_rows(np.asarray(spread, dtype=np.float32), (image.shape[0], image.shape[1]), factor)
    share = np.float32(0.25 * setup.detector.scatter_fraction)
    for number in range(image.shape[0]):
        image[number] += share * row(number)


def _add_noise(image: Image, setup: XraySetup, rng: np.random.Generator) -> None:
    detector = setup.detector
    photons = detector.photons_per_mm2 * detector.pixel_mm**2
    if photons <= 0 and detector.electronic_noise <= 0:
        return
    electronic = np.float32(detector.electronic_noise**2)
    quantum = np.float32(1.0 / photons if photons > 0 else 0.0)
    for start in range(0, image.shape[0], 256):
        block = image[start : start + 256]
        # Poisson counts, by the normal approximation: even behind the pelvis a pixel counts over a hundred.
        sd = np.sqrt(quantum * block + electronic)
        block += sd * rng.standard_normal(block.shape, dtype=np.float32)
