"""A follow-up film read for a visit: rough clicks in; marks, readings and the visit with both in it out."""

from dataclasses import replace
from datetime import date
from typing import Any

from limbwright.case.case import Case
from limbwright.case.visit_film import across_to, read_visit_film, treatment_with_nail
from limbwright.course.film_clicks import FilmClicks
from limbwright.course.visit import Visit
from limbwright.error import Missing
from limbwright.interop.plain_film_reading import film_reading_plain
from limbwright.web.bench import Workbench
from limbwright.web.casework import case_of, document_of, film_of, stored_case
from limbwright.web.course.asked import ReadFollowUp
from limbwright.web.course.following import course_of
from limbwright.web.failure import Failure
from limbwright.web.wire import NewFilm


def read_follow_up(bench: Workbench, case_id: str, asked: ReadFollowUp) -> dict[str, Any]:
    """Read one film for a visit; nothing is saved.

    Raises
    ------
    Failure
        409 before the operation; 422 where the bone is not treated, its nail is not known, or the nail's
        edges are not seen.
    """
    case, version = stored_case(bench, case_id)
    course_of(case)
    try:
        treatment_with_nail(case, asked.bone)
    except Missing as error:
        raise Failure(422, "refused", error.found, where=error.where, next_step=error.next_step) from None
    case = with_films(bench, case, (asked.film, *asked.films))
    film = next(f for f in case.films if f.sha256 == asked.film.sha256)
    case, visit = _with_visit(case, asked.visit)
    _, profile = bench.practice.profile()
    clicks = FilmClicks(
        film=film.name,
        bone=asked.bone,
        projection=film.projection,
        across_to=across_to(film, case.side),
        **asked.clicks.model_dump(),
    )
    picture = bench.lightbox.pyramid(asked.film.sha256).film.picture
    read = read_visit_film(case, visit, clicks, picture, profile)
    return {
        "version": version,
        "visit": _visit_document(_replaced(case, read.visit), read.visit.seen_on),
        "reading": film_reading_plain(read.film, read.reading, read.day, profile, read.findings),
    }


def with_films(bench: Workbench, case: Case, asked: tuple[NewFilm, ...]) -> Case:
    """The case with films of the store added to it; those it has already stay as they are."""
    there = {f.sha256 for f in case.films}
    new = {f.sha256: f for f in asked if f.sha256 not in there}
    return replace(case, films=(*case.films, *(film_of(bench, f) for f in new.values()))) if new else case


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
