"""A follow-up film read for a visit: rough clicks in; marks, readings and the visit with both in it out."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from limbwright.case.case import Case
from limbwright.case.followed import followed_case, nail_of
from limbwright.course.assisted import AssistedFilm, assisted_film
from limbwright.course.course import Treatment
from limbwright.course.film_clicks import FilmClicks
from limbwright.course.ledger import ledger
from limbwright.course.recorded import film_readings, with_marks, with_readings
from limbwright.course.schedule import first_step_day
from limbwright.course.visit import Visit
from limbwright.error import LimbwrightError, Missing
from limbwright.film.film import Film, ViewerSide
from limbwright.film.new_bone import development_of
from limbwright.film.reading import Picture
from limbwright.finding import Finding
from limbwright.implant.nail import Nail
from limbwright.interop.plain_film_reading import film_reading_plain
from limbwright.limb.anatomy import Projection, Side
from limbwright.practice.profile import Profile
from limbwright.web.bench import Workbench
from limbwright.web.casework import case_of, document_of, film_of, stored_case
from limbwright.web.course.asked import ReadFollowUp
from limbwright.web.course.following import course_of
from limbwright.web.failure import Failure
from limbwright.web.wire import NewFilm

ABOUT_LENGTH = frozenset(
    {"doses-differ", "length-differs-from-diary", "length-wrong-direction", "diary-wrong-direction"}
)
"""Findings that say how a film agrees with the prescription."""


def read_follow_up(bench: Workbench, case_id: str, asked: ReadFollowUp) -> dict[str, Any]:
    """Read one film for a visit; nothing is saved.

    Raises
    ------
    Failure
        409 before the operation; 422 where the bone is not treated, its nail is not known, or the nail's
        edges are not seen.
    """
    case, version = stored_case(bench, case_id)
    course = course_of(case)
    treatment = next((t for t in course.treatments if t.prescription.bone is asked.bone), None)
    nail = None if treatment is None else nail_of(case, treatment)
    if treatment is None or nail is None:
        raise Failure(
            422,
            "refused",
            f"the {asked.bone} is not being lengthened." if treatment is None else "the nail is not known.",
            where=f"case {case_id}, {asked.bone}",
            next_step="Name a bone with a prescription."
            if treatment is None
            else "Record the nail that was put in on the operation page; its diameter is the film's scale.",
        )
    case = with_films(bench, case, (asked.film, *asked.films))
    film = next(f for f in case.films if f.sha256 == asked.film.sha256)
    case, visit = _with_visit(case, asked.visit)
    _, profile = bench.practice.profile()
    picture = bench.lightbox.pyramid(asked.film.sha256).film.picture
    found = _assisted(picture, film, case.side, asked, nail)
    marked = with_marks(visit, found)
    readings = film_readings(
        marked,
        tuple(v for v in course_of(case).visits if v.seen_on < marked.seen_on),
        asked.bone,
        nail,
        profile,
        first_step_on=first_step_on(treatment),
    )
    done = with_readings(marked, asked.bone, readings)
    read = readings[film.projection]
    case = _replaced(case, done)
    day = ledger(treatment, (done,), until=done.seen_on, profile=profile).last
    return {
        "version": version,
        "visit": _visit_document(case, done.seen_on),
        "reading": film_reading_plain(found, read, day, profile, _about_length(case, profile, done.seen_on)),
    }


def with_films(bench: Workbench, case: Case, asked: tuple[NewFilm, ...]) -> Case:
    """The case with films of the store added to it; those it has already stay as they are."""
    there = {f.sha256 for f in case.films}
    new = {f.sha256: f for f in asked if f.sha256 not in there}
    return replace(case, films=(*case.films, *(film_of(bench, f) for f in new.values()))) if new else case


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


def _assisted(picture: Picture, film: Film, side: Side, asked: ReadFollowUp, nail: Nail) -> AssistedFilm:
    clicks = FilmClicks(
        film=film.name,
        bone=asked.bone,
        projection=film.projection,
        across_to=across_to(film, side),
        **asked.clicks.model_dump(),
    )
    return assisted_film(
        np.asarray(picture.values, dtype=np.float32),
        clicks,
        nail,
        development=development_of(picture),
        white=float(2**picture.bits_stored - 1),
    )


def first_step_on(treatment: Treatment) -> date:
    """Day of the first step; the day after the schedule where there is none."""
    days = treatment.days()
    try:
        return first_step_day(days).on
    except Missing:
        return days[-1].on + timedelta(days=1)


def _with_visit(case: Case, visit: dict[str, Any]) -> tuple[Case, Visit]:
    """The case with the visit as the form has it, in place of one on the same day."""
    document = document_of(case)
    seen_on = str(visit.get("seen_on", ""))
    others = [v for v in document["course"].get("visits", []) if v["seen_on"] != seen_on]
    document["course"]["visits"] = sorted([*others, visit], key=lambda v: str(v.get("seen_on", "")))
    changed = case_of(document)
    return changed, next(v for v in course_of(changed).visits if v.seen_on.isoformat() == seen_on)


def _replaced(case: Case, visit: Visit) -> Case:
    course = course_of(case)
    visits = tuple(visit if v.seen_on == visit.seen_on else v for v in course.visits)
    return replace(case, course=replace(course, visits=visits))


def _visit_document(case: Case, seen_on: date) -> Any:
    visits = document_of(case)["course"]["visits"]
    return next(v for v in visits if v["seen_on"] == seen_on.isoformat())


def _about_length(case: Case, profile: Profile, on: date) -> tuple[Finding, ...]:
    try:
        outlook = followed_case(case, profile, on=on)
    except LimbwrightError:
        return ()
    return tuple(f for f in outlook.findings if f.id in ABOUT_LENGTH)
