"""Texture of spongy bone and muscle: correlated noise with a direction, laid over a layer's shadow."""

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.mesh import Texture
from limbwright.film.phantom.setting import XraySetup

Image = NDArray[np.float32]
TILE_MM = 110.0
"""Size of the repeating tile at the detector; larger than any bone end. [mm]"""


def _tile(
    rng: np.random.Generator, size: int, along_px: float, across_px: float, *, turned_deg: float = 0.0
) -> Image:
    """Noise of mean 0 and standard deviation 1 that repeats seamlessly; `along` runs down the film."""
    white = np.fft.rfft2(rng.standard_normal((size, size), dtype=np.float32))
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


def broken_up(layer: Image, texture: Texture, setup: XraySetup, rng: np.random.Generator) -> None:
    """Break up the shadow of one layer in place."""
    pixel, strength = setup.detector.pixel_mm, setup.detector.tissue_texture
    size = int(2 ** np.ceil(np.log2(TILE_MM / pixel)))
    if texture is Texture.SPONGY:
        trabeculae = _tile(rng, size, 1.6 / pixel, 0.22 / pixel)
        cross = _tile(rng, size, 0.22 / pixel, 0.9 / pixel)
        clumps = _tile(rng, size, 3.0 / pixel, 2.0 / pixel)
        _laid(layer, trabeculae + 0.5 * cross + 0.8 * clumps, 0.020 * strength)
    else:
        bundles = _tile(rng, size, 22.0 / pixel, 2.5 / pixel, turned_deg=6.0)
        _laid(layer, bundles, 0.012 * strength)
