"""The picture of a film: grey values that rise with brightness, and what they mean."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.quantity import Value


class WindowShape(StrEnum):
    """How grey runs from black to white inside a window."""

    LINEAR = "linear"
    SIGMOID = "sigmoid"


class Meaning(StrEnum):
    """What the grey values of a picture are proportional to."""

    LINEAR_IN_ATTENUATION = "linear in attenuation"
    LINEAR_IN_INTENSITY = "linear in intensity at the detector"
    PROCESSED = "processed for display"
    UNSTATED = "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window(Value):
    """Range of picture values that is drawn from black to white."""

    centre: float
    """Middle of the range, in picture values."""
    width: float
    """Extent of the range, in picture values; black at centre - width/2, white at centre + width/2."""
    shape: WindowShape = WindowShape.LINEAR
    """A sigmoid reaches half grey at the centre with the slope of the linear window there."""
    name: str = ""
    """The header's own words for it; `whole range` or `picture's own range` where we chose it."""

    def __post_init__(self) -> None:
        if not (np.isfinite(self.centre) and np.isfinite(self.width) and self.width > 0):
            raise OutOfRange(
                f"centre {self.centre} and width {self.width} are no window; the width must be above 0.",
                where="display window",
                next_step="Give a centre and a width in picture values.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve(Value):
    """Display curve that a file carries as a table (VOI LUT)."""

    first_value: int
    """Picture value of the first entry; lower values get the first grey, higher than the last the last."""
    greys: tuple[int, ...]
    """Grey 0 to 255 for each picture value, rising index = rising value."""
    name: str = ""
    """The file's own words for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescale(Value):
    """Straight line from picture values to the modality's own values: slope * value + intercept."""

    slope: float
    """Modality units per picture value; negative where the picture had to be inverted."""
    intercept: float
    """Modality value of picture value 0."""
    unit: str
    """Rescale Type of the header (HU, OD, US, ...); empty when not stated."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """A grey radiograph.

    Values rise with brightness as the film is meant to be shown, so bone is bright: stored values of a
    MONOCHROME1 film have been complemented within their bit depth (`inverted`). No window, rescale or display
    curve has been applied to `values`; a modality table has.
    """

    values: NDArray[np.uint8] | NDArray[np.uint16] | NDArray[np.int16]
    """Shape (rows, columns), row 0 at the top, column 0 at the viewer's left; read-only."""
    bits_stored: int
    """Bits of depth in the file."""
    inverted: bool
    """Whether stored values were complemented: value = lowest + highest - stored."""
    windows: tuple[Window, ...]
    """Display windows of the header, or one of our own; the first is the default."""
    curve: Curve | None = None
    """Display curve of the file, if it carries one; the default when there is no window in the header."""
    meaning: Meaning = Meaning.UNSTATED
    """What the values are proportional to, as far as the header says."""
    rescale: Rescale | None = None
    """Line to modality values; None when the file has none, or a table was applied."""
    padding: tuple[int, int] | None = None
    """Lowest and highest picture value that marks pixels outside the exposed picture, both inclusive."""

    @property
    def rows(self) -> int:
        """Pixels from top to bottom."""
        return int(self.values.shape[0])

    @property
    def columns(self) -> int:
        """Pixels from left to right."""
        return int(self.values.shape[1])

    @property
    def window(self) -> Window:
        """The default window."""
        return self.windows[0]

    def exposed(self) -> NDArray[np.bool_]:
        """True where a pixel belongs to the exposed picture, shape (rows, columns)."""
        if self.padding is None:
            return np.ones(self.values.shape, dtype=np.bool_)
        low, high = self.padding
        return (self.values < low) | (self.values > high)
