"""The operation plan on paper: a planned case and its film pictures in, PDF bytes out."""

from collections.abc import Mapping
from datetime import date

from limbwright.case.candidates import CaseCandidates
from limbwright.case.case import Case
from limbwright.case.forecast import CaseAhead
from limbwright.case.planned import PlannedCase
from limbwright.course.schedule import Day
from limbwright.film.reading.picture import Picture
from limbwright.plan.uncertainty.values import PlanUncertainty
from limbwright.practice.profile import Profile
from limbwright.report.film_of_leg import films_of_leg, leg_window
from limbwright.report.forecast_figure import angulation_figure, contact_figure
from limbwright.report.leg_figure import stages_figure
from limbwright.report.pdf import operation_plan_pdf
from limbwright.report.plan_page import WALL_FIGURES, WHOLE_FIGURES, operation_plan_page


def printed_operation_plan(
    case: Case,
    planned: PlannedCase,
    profile: Profile,
    *,
    schedules: tuple[tuple[Day, ...], ...],
    pictures: Mapping[str, Picture],
    printed_on: date,
    ahead: CaseAhead | None = None,
    found: CaseCandidates | None = None,
    sure: PlanUncertainty | None = None,
) -> bytes:
    """The operation plan as PDF.

    Parameters
    ----------
    case, planned : Case, PlannedCase
        The case and everything worked out about it.
    profile : Profile
        The practice's settings.
    schedules : tuple of tuple of Day
        One per prescription of `planned`.
    pictures : mapping
        Film pictures by film name; figures of films that are not at hand stand on an empty ground.
    printed_on : date
        Day of printing.
    ahead : CaseAhead, optional
        Forecast of drift, drawn and weighed beside the geometry; left out where there is none.
    found, sure : CaseCandidates, PlanUncertainty, optional
        Plans worth comparing with this one, and how sure its end is.
    """
    films = films_of_leg(planned.measured.treated.views, case.films, pictures)
    figures = {}
    if planned.plan is not None:
        for names, whole in ((WALL_FIGURES, False), (WHOLE_FIGURES, True)):
            window = leg_window(planned.leg, planned.plan, whole=whole)
            for projection, film in films:
                shown = stages_figure(planned.leg, planned.plan, [(projection, film)], window)
                figures[names[projection]] = shown
    for bone in ahead.bones if ahead is not None else ():
        figures[f"drift-{bone.bone}.svg"] = angulation_figure(
            bone.forecast, limit_deg=profile.drift_limit_deg
        )
        figures[f"contact-{bone.bone}.svg"] = contact_figure(bone.forecast)
    page = operation_plan_page(
        case,
        planned,
        profile,
        schedules=schedules,
        printed_on=printed_on,
        films_shown=any(film is not None for _, film in films),
        ahead=ahead,
        found=found,
        sure=sure,
    )
    return operation_plan_pdf(page, figures)
