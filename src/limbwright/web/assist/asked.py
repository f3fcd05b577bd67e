"""What the assisted readings are asked with."""

from typing import Annotated, Any, Literal

from pydantic import Field

from limbwright.limb.anatomy import Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface
from limbwright.web.work.change import LongBone, Pixels, Wire

Click = tuple[Pixels, Pixels]
FilmRecord = Annotated[
    dict[str, Any], Field(description="The film's record, as it stands in the case document.")
]


class Snap(Wire):
    """One thing to be found near rough clicks."""

    film: FilmRecord
    what: Literal["landmark", "calibration ball", "ruler", "nail"]
    clicks_px: Annotated[tuple[Click, ...], Field(min_length=1, max_length=2)]
    side: Side | None = None
    landmark: Landmark | None = None
    diameter_mm: Annotated[float, Field(ge=3, le=100, allow_inf_nan=False)] | None = None
    interval_mm: Annotated[float, Field(ge=1, le=100, allow_inf_nan=False)] = 10.0


class PinnedPoint(Wire):
    """A point of a wall that the reader has set."""

    x_px: Pixels
    y_px: Pixels
    surface: Surface
    border: Border


class Trace(Wire):
    """A shaft to be traced along rough clicks."""

    film: FilmRecord
    side: Side
    bone: LongBone
    clicks_px: Annotated[tuple[Click, ...], Field(min_length=2, max_length=12)]
    pins: Annotated[tuple[PinnedPoint, ...], Field(max_length=50)] = ()
    blur_mm: Annotated[float, Field(gt=0, le=2, allow_inf_nan=False)] | None = None
