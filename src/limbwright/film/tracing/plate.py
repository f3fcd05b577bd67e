"""Grey values with their spacing: what every trace and every snap works on."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Contradiction, OutOfRange
from limbwright.quantity import require_within

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Whole = NDArray[np.intp]
Point = tuple[float, float]

BURNT_OUT_SHARE = 2e-4
"""Share of pixels in patches of the largest value from which these are burnt out; engineering judgement."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Plate:
    """Grey values of one film; bright where much was absorbed, as `film.reading.Picture.values` are."""

    grey: NDArray[Any]
    """Shape (rows, columns), any real dtype, row 0 at the top; never changed, never copied whole."""
    row_mm: float
    """Height of a pixel [mm]."""
    column_mm: float
    """Width of a pixel [mm]."""
    unusable: Mask | None = None
    """True where a pixel must not be used (padding, collimated, burnt out); None when all may."""
    white: float | None = None
    """Grey value at which the film is burnt out; its largest value when None."""

    def __post_init__(self) -> None:
        if self.grey.ndim != 2 or min(self.grey.shape) < 8:
            raise OutOfRange(
                f"an array of shape {self.grey.shape}, expected rows and columns, at least 8 of each.",
                where="grey",
                next_step="Give one grey picture.",
            )
        step = "Give the spacing of the pixels; 1 when it is not known, then read results in pixels."
        require_within("row_mm", self.row_mm, 0.01, 5.0, "mm", next_step=step)
        require_within("column_mm", self.column_mm, 0.01, 5.0, "mm", next_step=step)
        if self.unusable is not None and self.unusable.shape != self.grey.shape:
            raise Contradiction(
                f"a mask of shape {self.unusable.shape} for a picture of {self.grey.shape}.",
                where="unusable",
                next_step="Give a mask of the picture's own shape.",
            )

    @property
    def rows(self) -> int:
        """Pixels from top to bottom."""
        return int(self.grey.shape[0])

    @property
    def columns(self) -> int:
        """Pixels from left to right."""
        return int(self.grey.shape[1])

    @property
    def pixel_mm(self) -> float:
        """Geometric mean of height and width of a pixel [mm]."""
        return float(np.sqrt(self.row_mm * self.column_mm))

    def burnt_out_from(self) -> float:
        """Grey value from which the film is burnt out; infinite where it hardly has patches of one value."""
        if self.white is not None:
            return self.white
        sample = self.grey[::9]
        top = sample.max()
        largest = sample == top
        # A single brightest pixel is only that; three beside one another are burnt out.
        patches = largest[:, :-2] & largest[:, 1:-1] & largest[:, 2:]
        return float(top) if patches.mean() > BURNT_OUT_SHARE else float("inf")

    def mm(self, points_px: Floats) -> Floats:
        """Points in millimetres from the centre of the top left pixel. Shape (n, 2), x and y."""
        scaled: Floats = np.asarray(points_px, dtype=np.float64) * np.array([self.column_mm, self.row_mm])
        return scaled

    def px(self, points_mm: Floats) -> Floats:
        """Points in pixels. Shape (n, 2), x and y."""
        scaled: Floats = np.asarray(points_mm, dtype=np.float64) / np.array([self.column_mm, self.row_mm])
        return scaled

    def require_on_film(self, points_px: tuple[Point, ...]) -> None:
        """Refuse a click outside the picture."""
        for x, y in points_px:
            if not (0 <= x <= self.columns - 1 and 0 <= y <= self.rows - 1):
                raise OutOfRange(
                    f"a click at {x:.0f}, {y:.0f} px on a film of {self.columns} x {self.rows} px.",
                    where="click",
                    next_step="Click on the film.",
                )

    def sampled(self, x_mm: Floats, y_mm: Floats) -> tuple[Image, Mask]:
        """Grey values between pixels, bilinear, and where they may be used; any shape, both alike."""
        x, y = x_mm / self.column_mm, y_mm / self.row_mm
        inside = (x >= 0) & (x <= self.columns - 1) & (y >= 0) & (y <= self.rows - 1)
        column = np.clip(x, 0, self.columns - 1.001)
        row = np.clip(y, 0, self.rows - 1.001)
        left, top = column.astype(np.int32), row.astype(np.int32)
        over, down = (column - left).astype(np.float32), (row - top).astype(np.float32)
        grey = self.grey
        upper = grey[top, left].astype(np.float32)
        upper += over * (grey[top, left + 1].astype(np.float32) - upper)
        lower = grey[top + 1, left].astype(np.float32)
        lower += over * (grey[top + 1, left + 1].astype(np.float32) - lower)
        upper += down * (lower - upper)
        if self.unusable is not None:
            inside &= ~self.unusable[np.rint(row).astype(np.int32), np.rint(column).astype(np.int32)]
        return upper, inside

    def window(self, centre_px: Point, half_mm: float) -> tuple[Image, int, int]:
        """Crop about a point: values as float32, first column and first row of the crop."""
        half_x, half_y = int(np.ceil(half_mm / self.column_mm)), int(np.ceil(half_mm / self.row_mm))
        column, row = round(centre_px[0]), round(centre_px[1])
        first_x, first_y = max(column - half_x, 0), max(row - half_y, 0)
        crop = self.grey[first_y : row + half_y + 1, first_x : column + half_x + 1]
        return np.asarray(crop, dtype=np.float32), first_x, first_y
