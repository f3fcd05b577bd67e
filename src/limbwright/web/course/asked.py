"""Bodies of requests about a course."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from limbwright.web.wire import NewFilm, VersionNumber, Why
from limbwright.web.work.change import LongBone, Wire

Reason = Annotated[str, Field(max_length=500)]


class AnotherRate(Wire):
    """Lengthening goes on at another rate until the target."""

    kind: Literal["rate"]
    rate_mm_per_day: Annotated[float, Field(ge=0.05, le=5, allow_inf_nan=False)]


class Rest(Wire):
    """A rest of some days, then the phases go on."""

    kind: Literal["hold"]
    days: Annotated[int, Field(ge=1, le=120)]


class Shorten(Wire):
    """Shortening by some millimetres at the profile's rate, then a stand."""

    kind: Literal["reverse"]
    back_mm: Annotated[float, Field(gt=0, le=50, allow_inf_nan=False)]


class Turns(Wire):
    """Shorter and longer in turn for poor new bone, then a stand."""

    kind: Literal["accordion"]
    turn_days: Annotated[int, Field(ge=1, le=30)]


class GoOn(Wire):
    """The same phases from the length that is really there."""

    kind: Literal["continue"]


class EndHere(Wire):
    """No more lengthening: a lesser goal."""

    kind: Literal["end"]


CourseChange = Annotated[AnotherRate | Rest | Shorten | Turns | GoOn | EndHere, Field(discriminator="kind")]


class TryChange(Wire):
    """A change of one bone's prescription to try; nothing is saved."""

    bone: LongBone
    on: date
    change: CourseChange


class Prescribe(TryChange):
    """A change of one bone's prescription from the day after `on`."""

    base_version: VersionNumber
    reason: Reason = ""


class SaveVisit(Wire):
    """A visit in the shape of the case file, and the version it goes on top of."""

    base_version: VersionNumber
    visit: Annotated[
        dict[str, Any],
        Field(description="A visit in the shape of docs/case-file.md; it is read and refused as one."),
    ]
    replaces: date | None = None
    films: Annotated[
        tuple[NewFilm, ...],
        Field(
            max_length=20,
            description="Films of the store that were taken for it and become part of the case.",
        ),
    ] = ()
    why: Why = ""


Px = Annotated[float, Field(ge=-10, le=200_000, allow_inf_nan=False)]
Place = tuple[Px, Px]


class Clicks(Wire):
    """Rough clicks on a follow-up film, column and row in pixels, up to some millimetres off."""

    nail_thick_end: Place
    nail_junction: Place
    nail_thin_end: Place
    proximal_upper: Place | None = None
    cut_upper: Place | None = None
    cut_lower: Place | None = None
    distal_lower: Place | None = None
    knee_outer: Place | None = None
    knee_inner: Place | None = None
    ankle_outer: Place | None = None
    ankle_inner: Place | None = None
    fibular_head: Place | None = None
    malleolus: Place | None = None
    femoral_head: Place | None = None


class ReadFollowUp(Wire):
    """A follow-up film to read for a visit; nothing is saved."""

    bone: LongBone
    film: NewFilm
    films: Annotated[
        tuple[NewFilm, ...],
        Field(max_length=20, description="Other films that the visit names and the case does not have yet."),
    ] = ()
    clicks: Clicks
    visit: Annotated[
        dict[str, Any],
        Field(
            description="The visit as it stands, in the shape of docs/case-file.md; readings are put into it."
        ),
    ]


class TickedDay(Wire):
    """What the patient wrote down for one day."""

    on: date
    steps: Annotated[int, Field(ge=-1440, le=1440)] | None
    note: Annotated[str, Field(max_length=500)] = ""


class SaveDiary(Wire):
    """Days of the diary; a day whose steps are null is taken out of it."""

    base_version: VersionNumber
    bone: LongBone
    days: Annotated[tuple[TickedDay, ...], Field(min_length=1, max_length=400)]
