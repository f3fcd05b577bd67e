"""Bodies of requests, and of the answers whose shape is small enough to be written down as a type."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from limbwright.course.operation import OperationRecord
from limbwright.film.film import ViewerSide
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection, Side
from limbwright.plan.stage import StageName
from limbwright.web.work.change import Alteration, Change, Moment, Wire

Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Session = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9._-]+$")]
Base = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
Why = Annotated[str, Field(max_length=1000)]
VersionNumber = Annotated[int, Field(ge=0, le=1_000_000_000)]
CaseDocument = Annotated[
    dict[str, Any],
    Field(description="A case in the shape of docs/case-file.md; it is read and refused as a case file is."),
]
Positive = Annotated[float, Field(ge=0, le=2000, allow_inf_nan=False)]
Words = Annotated[str, Field(max_length=2000)]


class ErrorAnswer(Wire):
    """What every error says."""

    code: str
    found: str
    where: str
    unit: str
    next: str
    problems: tuple[dict[str, Any], ...] = ()
    differs: tuple[dict[str, Any], ...] = ()
    version: int | None = None
    """Conflicts: the newest version."""
    base_version: int | None = None
    """Conflicts: the version the change was made on."""
    saved_by: str | None = None
    """Conflicts: who saved the newest version."""
    saved_at: str | None = None
    """Conflicts: when."""
    combined: dict[str, Any] | None = None
    """Conflicts: both sets of changes together, where they fit."""
    stops: tuple[dict[str, Any], ...] | None = None
    """Accepting: the findings that are left open."""
    csrf: str | None = None
    """Session: the token for logging in."""


class LogIn(Wire):
    """Name and password."""

    name: Annotated[str, Field(min_length=1, max_length=64)]
    password: Annotated[str, Field(min_length=1, max_length=1000)]


class Search(Wire):
    """Words to look for in identifier, pseudonym and diagnosis."""

    text: Annotated[str, Field(max_length=200)] = ""
    offset: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    limit: Annotated[int, Field(ge=1, le=500)] = 50


class NewPatient(Wire):
    """Who is treated, under a pseudonym."""

    id: Annotated[str, Field(min_length=1, max_length=64)]
    sex: Sex
    birth_date: date | None = None
    age_years: Annotated[float, Field(ge=0, le=120, allow_inf_nan=False)] | None = None
    skeletal_age_years: Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)] | None = None


class NewFilm(Wire):
    """A film of the store that becomes part of a case; sizes and header scale are read from it."""

    sha256: Sha256
    name: Annotated[str, Field(min_length=1, max_length=80)]
    projection: Projection
    taken_on: date | None = None
    right_side_at: ViewerSide = ViewerSide.VIEWER_LEFT
    anterior_at: ViewerSide | None = None
    standing: bool = True


class NewCase(Wire):
    """A case as it begins: patient, side and films."""

    id: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    side: Side
    diagnosis: Annotated[str, Field(max_length=10_000)] = ""
    patient: NewPatient
    films: Annotated[tuple[NewFilm, ...], Field(max_length=40)] = ()
    invented: bool = False


class MoreFilms(Wire):
    """Films of the store that are added to a case, and the version they are added to."""

    base_version: VersionNumber
    films: Annotated[tuple[NewFilm, ...], Field(min_length=1, max_length=20)]
    why: Why = ""


class SaveCase(Wire):
    """A changed case, and the version the change was made on."""

    base_version: VersionNumber
    case: CaseDocument
    alterations: Annotated[tuple[Alteration, ...], Field(max_length=200)] | None = None
    why: Why = ""


class Restore(Wire):
    """An older version to bring back."""

    version: VersionNumber
    base_version: VersionNumber
    part: Annotated[str, Field(max_length=40)] | None = None
    why: Why = ""


class Override(Wire):
    """A `stop` that the surgeon overrules, and why."""

    finding: Annotated[str, Field(min_length=1, max_length=100)]
    words: Annotated[str, Field(min_length=1, max_length=4000)]
    reason: Annotated[str, Field(min_length=10, max_length=2000)]


class Accept(Wire):
    """The plan of a version is accepted."""

    base_version: VersionNumber
    overrides: Annotated[tuple[Override, ...], Field(max_length=100)] = ()
    why: Why = ""


class SaveOperation(Wire):
    """An operation record, and the version of the case it belongs on top of."""

    base_version: VersionNumber
    record: OperationRecord
    why: Why = ""


class Measure(Wire):
    """A case to measure; one that is still being marked will do."""

    session: Session
    case: CaseDocument


class PlanCase(Measure):
    """A case to measure and plan, with alterations laid over the proposal."""

    alterations: Annotated[tuple[Alteration, ...], Field(max_length=200)] = ()


class Drag(Wire):
    """One change on top of a state."""

    session: Session
    base: Base
    change: Change
    stage: StageName = StageName.FULL_LENGTH
    projection: Projection | None = None


class Days(Wire):
    """Moments of the time axis; every day of the course without any."""

    session: Session
    base: Base
    moments: Annotated[tuple[Moment, ...], Field(max_length=500)] | None = None


class Draw(Wire):
    """Moments to draw."""

    session: Session
    base: Base
    moments: Annotated[tuple[Moment, ...], Field(min_length=1, max_length=10)]


class OfState(Wire):
    """A state of a light table."""

    session: Session
    base: Base


class SaveProfile(Wire):
    """Settings to change."""

    base_version: VersionNumber
    changes: dict[str, float | int | bool | str]
    why: Why = ""


class ResetProfile(Wire):
    """Settings to take back to our defaults; all of them without names."""

    base_version: VersionNumber
    names: Annotated[tuple[str, ...], Field(max_length=300)] | None = None
    why: Why = ""


class SaveCatalogue(Wire):
    """A catalogue file."""

    base_version: VersionNumber
    toml: Annotated[str, Field(max_length=2_000_000)]
    why: Why = ""


class ResetCatalogue(Wire):
    """Back to the shipped, invented catalogue."""

    base_version: VersionNumber
    why: Why = ""


class SavedAs(Wire):
    """Where a save ended up."""

    id: str
    version: int


class Health(Wire):
    """The server answers."""

    ready: Literal[True]
    version: str


class SessionAnswer(Wire):
    """Who is asking, and the token that changes must carry."""

    name: str
    role: str
    local: bool
    csrf: str
    caution: str
