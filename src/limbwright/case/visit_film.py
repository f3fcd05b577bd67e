"""A follow-up film of a case read for a visit: rough clicks in, marks and readings in the visit out."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from limbwright.case.case import Case
from limbwright.case.followed import followed_case, nail_of
from limbwright.course.assisted import AssistedFilm, assisted_film
from limbwright.course.course import Treatment
from limbwright.course.film_clicks import FilmClicks
from limbwright.course.film_reading import FilmReading
from limbwright.course.ledger import LedgerDay, ledger
from limbwright.course.recorded import film_readings, with_marks, with_readings
from limbwright.course.schedule import first_step_day
from limbwright.course.visit import Visit
from limbwright.error import LimbwrightError, Missing
from limbwright.film.film import Film, ViewerSide
from limbwright.film.reading import Picture
from limbwright.film.reading.development import development_of
from limbwright.finding import Finding
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

ABOUT_LENGTH = frozenset(
    {"doses-differ", "length-differs-from-diary", "length-wrong-direction", "diary-wrong-direction"}
)
"""Findings that say how a film agrees with the prescription."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VisitFilm(Value):
    """One film read for a visit."""

    visit: Visit
    """The visit with marks and readings in it."""
    film: AssistedFilm
    """Marks, and what was left as clicked."""
    reading: FilmReading
    """What the marks say."""
    day: LedgerDay
    """Prescribed and reported length on that day."""
    findings: tuple[Finding, ...]
    """How the length agrees with the prescription."""


def treatment_with_nail(case: Case, bone: Bone) -> Treatment:
    """The treatment of a bone whose nail is known, as it is needed to read its films.

    Raises
    ------
    Missing
        If the bone is not treated, or its nail is not known.
    """
    treatments = () if case.course is None else case.course.treatments
    treatment = next((t for t in treatments if t.prescription.bone is bone), None)
    if treatment is None:
        raise Missing(
            f"the {bone} is not being lengthened.",
            where=f"case {case.id!r}, course",
            next_step="Name a bone with a prescription.",
        )
    nail = nail_of(case, treatment)
    if nail is None:
        raise Missing(
            "the nail is not known.",
            where=f"case {case.id!r}, {bone}",
            next_step="Record the nail that was put in with the operation; its diameter is the film's scale.",
        )
    return replace(treatment, nail=nail)


def read_visit_film(
    case: Case, visit: Visit, clicks: FilmClicks, picture: Picture, profile: Profile
) -> VisitFilm:
    """Read one film for a visit.

    Parameters
    ----------
    case : Case
        With the visits before; a visit of the same day in it is put aside.
    visit : Visit
        The visit as it stands; readings are put into it.
    clicks : FilmClicks
        Rough clicks on the film.
    picture : Picture
        The film, decoded.
    profile : Profile
        Reading errors.

    Raises
    ------
    Missing
        If the bone is not treated, or its nail is not known.
    Refused
        If the nail's edges are not seen, so that the film has no scale.
    """
    treatment = treatment_with_nail(case, clicks.bone)
    assert treatment.nail is not None
    assert case.course is not None
    found = assisted_film(
        np.asarray(picture.values, dtype=np.float32),
        clicks,
        treatment.nail,
        development=development_of(picture),
        white=float(2**picture.bits_stored - 1),
    )
    marked = with_marks(visit, found)
    others = tuple(v for v in case.course.visits if v.seen_on != visit.seen_on)
    readings = film_readings(
        marked,
        tuple(v for v in others if v.seen_on < visit.seen_on),
        clicks.bone,
        treatment.nail,
        profile,
        first_step_on=first_step_on(treatment),
    )
    done = with_readings(marked, clicks.bone, readings)
    visits = tuple(sorted((*others, done), key=lambda v: v.seen_on))
    now = replace(case, course=replace(case.course, visits=visits))
    return VisitFilm(
        visit=done,
        film=found,
        reading=readings[clicks.projection],
        day=ledger(treatment, (done,), until=done.seen_on, profile=profile).last,
        findings=_about_length(now, profile, done.seen_on),
    )


def across_to(film: Film, side: Side) -> ViewerSide:
    """Where lateral (frontal film) or anterior (sagittal film) of one leg lies for the viewer."""
    if film.projection is Projection.SAGITTAL:
        if film.anterior_at is None:
            raise Missing(
                "the film does not say where anterior is.",
                where=f"film {film.name!r}",
                next_step=f"Give '{ViewerSide.VIEWER_LEFT}' or '{ViewerSide.VIEWER_RIGHT}'.",
            )
        return film.anterior_at
    other = (
        ViewerSide.VIEWER_LEFT if film.right_side_at is ViewerSide.VIEWER_RIGHT else ViewerSide.VIEWER_RIGHT
    )
    return film.right_side_at if side is Side.RIGHT else other


def first_step_on(treatment: Treatment) -> date:
    """Day of the first step; the day after the schedule where there is none."""
    days = treatment.days()
    try:
        return first_step_day(days).on
    except Missing:
        return days[-1].on + timedelta(days=1)


def _about_length(case: Case, profile: Profile, on: date) -> tuple[Finding, ...]:
    try:
        outlook = followed_case(case, profile, on=on)
    except LimbwrightError:
        return ()
    return tuple(f for f in outlook.findings if f.id in ABOUT_LENGTH)
