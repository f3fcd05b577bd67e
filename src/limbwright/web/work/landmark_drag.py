"""A landmark under the hand: readings, lines and apexes of its leg, and how far the hand may go."""

from dataclasses import replace
from typing import Any

from limbwright.case.measured import films_before_operation, reading_error_of
from limbwright.error import LimbwrightError, Missing
from limbwright.film.film import Film, Mark, Provenance
from limbwright.film.leg import views_of
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.view import View
from limbwright.plan.leg import LegModel, leg_model
from limbwright.web.failure import said
from limbwright.web.work.apex_line import quick_apexes
from limbwright.web.work.change import MovedLandmark
from limbwright.web.work.drawn import lines_plain
from limbwright.web.work.quick import all_plain, quick_readings
from limbwright.web.work.state import WorkState

HALVINGS = 6


def landmark_drag(state: WorkState, change: MovedLandmark) -> dict[str, Any]:
    """What a dragged landmark changes.

    Raises
    ------
    Missing
        When the film is not one of the case.
    """
    film = state.case.film(change.film)
    if film is None:
        raise Missing(
            f"there is no film {change.film!r} in the case.",
            where="change",
            next_step="Name a film of the case.",
        )
    moved, taken, limited = _within(film, change)
    # Walls say nothing about landmarks, and there are hundreds of points of them.
    films = tuple(
        replace(moved if f.name == film.name else f, walls=()) for f in films_before_operation(state.case)
    )
    profile = state.practice.profile
    views = views_of(films, change.side, reading_error=reading_error_of(profile))
    view = views.frontal if film.projection is Projection.FRONTAL else views.sagittal
    leg = _model(views.frontal, views.sagittal)
    return {
        "base": state.base,
        "change": taken.model_dump(mode="json"),
        "limited": limited,
        "readings": [] if view is None else _readings(state, view, change.side),
        "end": [],
        "cut_faces": [],
        "findings": {"renewed": [], "now": []},
        "nail_offer": None,
        "bone": None,
        "apexes": [] if view is None else _apexes(state, view, leg, change.side),
        "drawings": {p.value: None for p in Projection},
        "fragments": [],
        "motions": {p.value: None for p in Projection},
        "lines": {change.side.value: lines_plain(leg, walls=False)},
    }


def with_mark(film: Film, change: MovedLandmark) -> Film:
    """A film with one landmark somewhere else. Raises LimbwrightError when it cannot be there."""
    old = film.marks(change.side).get(change.landmark)
    mark = Mark(
        x_px=change.x_px,
        y_px=change.y_px,
        sd_px=None if old is None else old.sd_px,
        provenance=Provenance.EDITED if old is not None else Provenance.CLICKED,
    )
    marks = {**film.marks(change.side), change.landmark: mark}
    return replace(film, right=marks) if change.side is Side.RIGHT else replace(film, left=marks)


def _within(film: Film, change: MovedLandmark) -> tuple[Film, MovedLandmark, dict[str, Any] | None]:
    """The film with the landmark as near to where it was asked as it can be, and why not nearer."""
    try:
        return with_mark(film, change), change, None
    except LimbwrightError as error:
        reason = error
    old = film.marks(change.side).get(change.landmark)
    if old is None:
        raise reason
    best, taken, low, high = film, change.model_copy(update={"x_px": old.x_px, "y_px": old.y_px}), 0.0, 1.0
    for _ in range(HALVINGS):
        share = (low + high) / 2
        tried = change.model_copy(
            update={
                "x_px": old.x_px + share * (change.x_px - old.x_px),
                "y_px": old.y_px + share * (change.y_px - old.y_px),
            }
        )
        try:
            best, taken, low = with_mark(film, tried), tried, share
        except LimbwrightError as error:
            reason, high = error, share
    limit = {
        **said(reason),
        "unit": "px",
        "low": None,
        "high": None,
        "asked": [change.x_px, change.y_px],
        "taken": [taken.x_px, taken.y_px],
    }
    return best, taken, limit


def _model(frontal: View | None, sagittal: View | None) -> LegModel | None:
    if frontal is None:
        return None
    try:
        return leg_model(frontal, sagittal)
    except LimbwrightError:
        return None


def _readings(state: WorkState, view: View, side: Side) -> list[dict[str, Any]]:
    known = state.measured_leg(side)
    before = None
    if known is not None:
        before = known.frontal if view.projection is Projection.FRONTAL else known.sagittal
    age = 30.0 if state.measured is None else state.measured.age_years
    return [
        {"side": side.value, **item} for item in all_plain(quick_readings(view, age_years=age, before=before))
    ]


def _apexes(state: WorkState, view: View, leg: LegModel | None, side: Side) -> list[dict[str, Any]]:
    if state.measured is None or side is not state.case.side:
        return []
    found = []
    for seen in state.seen:
        plane = seen.frontal if view.projection is Projection.FRONTAL else seen.sagittal
        if plane is not None:
            found += quick_apexes(view, plane, state.measured.templates, leg)
    return found
