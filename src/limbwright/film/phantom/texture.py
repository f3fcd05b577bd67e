"""Texture of spongy bone and muscle: correlated noise with a direction, laid over a layer's shadow."""

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.grain import Grain
from limbwright.film.phantom.mesh import Texture
from limbwright.film.phantom.setting import XraySetup

Image = NDArray[np.float32]
TILE_MM = 110.0
"""Size of the repeating tile at the detector; larger than any bone end. [mm]"""

TRABECULA_MM = (1.1, 0.24)
"""Correlation length of spongy bone along and across its grain; engineering judgement. [mm]"""
SPONGY_STRENGTH = 0.017
"""Standard deviation of the texture, as a fraction of the spongy bone's shadow; engineering judgement."""


def _white(rng: np.random.Generator, size: int) -> NDArray[np.complex64]:
    """Spectrum of white noise on a square tile."""
    return np.asarray(np.fft.rfft2(rng.standard_normal((size, size), dtype=np.float32)), dtype=np.complex64)


def _tile(
    white: NDArray[np.complex64], along_px: float, across_px: float, *, turned_deg: float = 0.0
) -> Image:
    """Noise of mean 0 and standard deviation 1 that repeats seamlessly; `along` runs down the film."""
    size = white.shape[0]
    fy, fx = np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None, :]
    turn = np.radians(turned_deg)
    down, over = fy * np.cos(turn) - fx * np.sin(turn), fy * np.sin(turn) + fx * np.cos(turn)
    keep = np.exp(-2.0 * np.pi**2 * ((down * along_px) ** 2 + (over * across_px) ** 2))
    keep[0, 0] = 0.0
    noise = np.fft.irfft2(white * keep, s=(size, size))
    return np.asarray(noise / noise.std(), dtype=np.float32)


def _laid(layer: Image, tile: Image, strength: float) -> None:
    rows, columns = layer.shape
    wide = np.tile(tile, (1, columns // tile.shape[1] + 1))[:, :columns]
    for start in range(0, rows, tile.shape[0]):
        stop = min(rows, start + tile.shape[0])
        layer[start:stop] *= 1.0 + np.float32(strength) * wide[: stop - start]


def _turned_in(layer: Image, grain: Grain, along: Image, turned: Image, strength: float) -> None:
    """Let the texture of one round patch run its own way instead of along the film."""
    column, row = grain.centre_px
    reach = grain.radius_px
    top, bottom = max(0, int(row - reach)), min(layer.shape[0], int(row + reach) + 1)
    left, right = max(0, int(column - reach)), min(layer.shape[1], int(column + reach) + 1)
    if top >= bottom or left >= right:
        return
    rows, columns = np.arange(top, bottom), np.arange(left, right)
    away = np.hypot(rows[:, None] - row, columns[None, :] - column) / reach
    share = np.clip(1.5 * (1.0 - away), 0.0, 1.0).astype(np.float32)
    at = np.ix_(rows % along.shape[0], columns % along.shape[1])
    layer[top:bottom, left:right] *= 1.0 + np.float32(strength) * share * (turned[at] - along[at])


def broken_up(
    layer: Image,
    texture: Texture,
    setup: XraySetup,
    rng: np.random.Generator,
    grains: tuple[Grain, ...] = (),
) -> None:
    """Break up the shadow of one layer in place; `grains` say where spongy bone runs its own way."""
    pixel, strength = setup.detector.pixel_mm, setup.detector.tissue_texture
    size = int(2 ** np.ceil(np.log2(TILE_MM / pixel)))
    if texture is not Texture.SPONGY:
        _laid(layer, _tile(_white(rng, size), 22.0 / pixel, 2.5 / pixel, turned_deg=6.0), 0.012 * strength)
        return
    length, breadth = (size_mm / pixel for size_mm in TRABECULA_MM)
    along = _tile(_white(rng, size), length, breadth)
    clumps = _tile(_white(rng, size), 3.0 / pixel, 2.0 / pixel)
    _laid(layer, along + 0.7 * clumps, SPONGY_STRENGTH * strength)
    white = _white(rng, size)
    for grain in grains:
        turned = _tile(white, length, breadth, turned_deg=grain.turned_deg)
        _turned_in(layer, grain, along, turned, 1.15 * SPONGY_STRENGTH * strength)
