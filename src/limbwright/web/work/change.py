"""What a hand can change on the light table, as it comes from the page."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border

Millimetres = Annotated[float, Field(ge=-2000, le=2000, allow_inf_nan=False)]
Pixels = Annotated[float, Field(ge=-100_000, le=200_000, allow_inf_nan=False)]
LongBone = Literal[Bone.FEMUR, Bone.TIBIA]
Index = Annotated[int, Field(ge=0, le=99)]


class Wire(BaseModel):
    """A value on the wire: unknown keys are refused, nothing changes after it was read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class MovedLandmark(Wire):
    """A landmark is somewhere else on its film."""

    kind: Literal["landmark"]
    film: Annotated[str, Field(min_length=1, max_length=80)]
    side: Side
    landmark: Landmark
    x_px: Pixels
    y_px: Pixels


class MovedOsteotomy(Wire):
    """The bone is cut at another level."""

    kind: Literal["osteotomy"]
    bone: LongBone
    below_joint_mm: Millimetres


class ChangedLengthening(Wire):
    """Another length is to be gained."""

    kind: Literal["lengthening"]
    bone: LongBone
    lengthening_mm: Millimetres


class ChosenNail(Wire):
    """Another nail of the catalogue is chosen."""

    kind: Literal["nail"]
    bone: LongBone
    nail: Annotated[str, Field(min_length=1, max_length=200)]


class MovedPath(Wire):
    """One end of the nail's line in one fragment lies elsewhere in one plane."""

    kind: Literal["path"]
    bone: LongBone
    fragment: Fragment
    end: Literal["upper", "lower"]
    projection: Projection
    across_mm: Millimetres


class MovedBlockingScrew(Wire):
    """A blocking screw stands at another distance from the osteotomy."""

    kind: Literal["blocking-screw"]
    bone: LongBone
    index: Index
    from_osteotomy_mm: Millimetres


class AddedBlockingScrew(Wire):
    """A blocking screw more."""

    kind: Literal["add-blocking-screw"]
    bone: LongBone
    fragment: Fragment
    side: Border
    from_osteotomy_mm: Millimetres


class RemovedBlockingScrew(Wire):
    """A blocking screw less."""

    kind: Literal["remove-blocking-screw"]
    bone: LongBone
    index: Index


class MovedPin(Wire):
    """A pin of the temporary fixator is set at another level."""

    kind: Literal["pin"]
    bone: LongBone
    index: Index
    below_joint_mm: Millimetres


Alteration = Annotated[
    MovedPath | MovedBlockingScrew | AddedBlockingScrew | RemovedBlockingScrew | MovedPin,
    Field(discriminator="kind"),
]
"""A change that the goal of a case has no place for; it is laid over what the planner proposes."""

Change = Annotated[
    MovedLandmark
    | MovedOsteotomy
    | ChangedLengthening
    | ChosenNail
    | MovedPath
    | MovedBlockingScrew
    | AddedBlockingScrew
    | RemovedBlockingScrew
    | MovedPin,
    Field(discriminator="kind"),
]
"""Anything that can be dragged or chosen on the light table."""


class Moment(Wire):
    """A moment of the time axis: a stage, a day after the operation, or lengths gained."""

    stage: Literal["as it stands", "corrected", "at full length"] | None = None
    day: Annotated[int, Field(ge=0, le=4000)] | None = None
    gained_mm: dict[LongBone, Annotated[float, Field(ge=0, le=250, allow_inf_nan=False)]] | None = None
