"""Grey levels for drawing: a window or curve as a table, looked up once per pixel."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.film.reading.picture import Curve, Picture, Window, WindowShape
from limbwright.quantity import Value

_BAND_PIXELS = 200_000  # a band that stays in the processor's cache
_SAMPLES = 250_000
_TAILS_PERCENT = (0.5, 99.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Region(Value):
    """A rectangle of a picture, in pixels."""

    top: int
    """First row."""
    left: int
    """First column."""
    rows: int
    """Rows taken; cut at the picture's edge."""
    columns: int
    """Columns taken; cut at the picture's edge."""


def grey8(
    picture: Picture, window: Window | Curve | None = None, *, region: Region | None = None, step: int = 1
) -> NDArray[np.uint8]:
    """Grey levels 0 to 255 of a picture, or of a part of it, for drawing.

    Parameters
    ----------
    picture : Picture
        The film.
    window : Window or Curve, optional
        Range drawn from black to white, or the file's own display curve; the picture's default when absent.
    region : Region, optional
        Part to draw; all of it when absent.
    step : int
        Every `step`-th row and column is taken (no averaging), starting at the region's first.

    Returns
    -------
    (ceil(rows / step), ceil(columns / step)) uint8
        Bone bright; pixels outside the exposed picture are 0.

    Raises
    ------
    OutOfRange
        When the region lies outside the picture or the step is below 1.
    """
    if step < 1:
        raise OutOfRange(
            f"step is {step}, expected 1 or more.", where="drawing", next_step="Ask for 1 or more."
        )
    if region is None:
        region = Region(top=0, left=0, rows=picture.rows, columns=picture.columns)
    inside = 0 <= region.top < picture.rows and 0 <= region.left < picture.columns
    if not inside or region.rows < 1 or region.columns < 1:
        raise OutOfRange(
            f"the region of {region.rows} rows and {region.columns} columns at row {region.top}, column "
            f"{region.left} [px] lies outside the picture of {picture.rows} by {picture.columns}.",
            where="drawing",
            next_step="Ask for a region that begins inside the picture.",
        )
    if window is None:
        window = picture.window if picture.curve is None or not _is_ours(picture.window) else picture.curve
    values: NDArray[Any] = picture.values
    part = values[
        region.top : region.top + region.rows : step, region.left : region.left + region.columns : step
    ]
    table = _grey_table(window, str(values.dtype), picture.padding)
    indices = part.view(np.uint16) if values.dtype == np.int16 else part
    greys = np.empty(part.shape, dtype=np.uint8)
    band = max(1, _BAND_PIXELS // part.shape[1])
    for top in range(0, part.shape[0], band):
        np.take(table, indices[top : top + band], out=greys[top : top + band], mode="clip")
    return greys


OWN_RANGE = "picture's own range"


def own_range(values: NDArray[Any], padding: tuple[int, int] | None) -> Window:
    """A window over the middle 99 % of the exposed values, from an even sample of the picture."""
    step = max(1, int(np.sqrt(values.size / _SAMPLES)))
    sample = values[::step, ::step].ravel()
    if padding is not None:
        exposed = sample[(sample < padding[0]) | (sample > padding[1])]
        sample = exposed if exposed.size else sample
    low, high = np.percentile(sample, _TAILS_PERCENT)
    return Window(centre=float(low + high) / 2, width=max(float(high - low), 1.0), name=OWN_RANGE)


def _is_ours(window: Window) -> bool:
    return window.name == OWN_RANGE


@lru_cache(maxsize=32)
def _grey_table(window: Window | Curve, dtype: str, padding: tuple[int, int] | None) -> NDArray[np.uint8]:
    """Grey of every possible value; int16 values are indexed by their bit pattern."""
    if dtype == "uint8":
        values = np.arange(256)
    elif dtype == "uint16":
        values = np.arange(1 << 16)
    else:
        values = np.arange(1 << 16, dtype=np.uint16).view(np.int16).astype(np.int64)
    if isinstance(window, Curve):
        greys = np.asarray(window.greys, dtype=np.float64)
        grey = greys[np.clip(values - window.first_value, 0, len(greys) - 1)]
    elif window.shape is WindowShape.SIGMOID:
        # Beyond 20 widths the sigmoid is flat; the clip only keeps exp() finite.
        grey = 255.0 / (1.0 + np.exp(np.clip(-4.0 * (values - window.centre) / window.width, -80.0, 80.0)))
    else:
        black = window.centre - window.width / 2
        grey = np.clip((values - black) * (255.0 / window.width), 0.0, 255.0)
    table = np.rint(grey).astype(np.uint8)
    if padding is not None:
        table[(values >= padding[0]) & (values <= padding[1])] = 0
    table.flags.writeable = False
    return table
