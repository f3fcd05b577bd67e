"""A case measured: both legs on their films, their difference, and what each angle should be."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from limbwright.case.case import Case
from limbwright.error import Missing
from limbwright.film.film import Film
from limbwright.film.leg import LegViews, ReadingError, Stated, views_of
from limbwright.finding import Finding, ordered
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.discrepancy import Discrepancy, discrepancy
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure, NotMeasured, Reading, Readings
from limbwright.limb.template import Template, templates
from limbwright.limb.view import View
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLeg(Value):
    """One leg: its views and everything measured on them."""

    views: LegViews
    """The leg as its films show it."""
    frontal: Readings
    """Measured on frontal films; empty when there is none."""
    sagittal: Readings
    """Measured on sagittal films; empty when there is none."""

    def get(self, measure: Measure) -> Reading | None:
        """One reading of either projection; None when it was not measured."""
        return self.frontal.get(measure) or self.sagittal.get(measure)

    def all_readings(self) -> tuple[Reading, ...]:
        """Readings of both projections in the order of `Measure`."""
        found = {r.measure: r for r in (*self.sagittal.values, *self.frontal.values)}
        return tuple(found[m] for m in Measure if m in found)

    def all_not_measured(self) -> tuple[NotMeasured, ...]:
        """What neither projection gave, with reasons."""
        return tuple(
            n
            for n in (*self.frontal.not_measured, *self.sagittal.not_measured)
            if self.get(n.measure) is None
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredCase(Value):
    """Both legs measured on the films before the operation."""

    side: Side
    """Treated leg."""
    age_years: float
    """Age when the films were taken [years]."""
    treated: MeasuredLeg
    """The treated leg."""
    other: MeasuredLeg | None
    """The other leg; absent when no film shows it."""
    difference: Discrepancy | None
    """Treated leg against the other, shorter negative; absent without both frontal views."""
    templates: Mapping[Measure, Template]
    """What each angle should be: the other leg when normal, the population when not."""
    findings: tuple[Finding, ...]
    """About films, scale, headers and the difference; worst first."""


_NOTHING = Readings(values=(), not_measured=())


def measured_case(
    case: Case, profile: Profile | None = None, *, stated: Mapping[str, Stated] | None = None
) -> MeasuredCase:
    """Measure both legs of a case on its films before the operation.

    Parameters
    ----------
    case : Case
        The case.
    profile : Profile, optional
        Reading errors and whether the other leg may serve as template; our defaults unless given.
    stated : mapping, optional
        What the films' headers say about side and projection, by film name; contradictions are `stop`s.

    Raises
    ------
    Missing
        If no film shows the treated leg.
    """
    profile = profile or Profile()
    films = films_before_operation(case)
    day = min((film.taken_on for film in films if film.taken_on is not None), default=None)
    age_years = case.patient.age_on(day, age_stated_on=day) if day else case.patient.age_years
    if age_years is None:
        raise Missing(
            "no film has a date, and the patient has a birth date but no age.",
            where="films",
            next_step="Give a film its date (taken_on), or the patient an age in years.",
        )
    legs = {
        side: measured_leg(films, side, age_years=age_years, profile=profile, stated=stated) for side in Side
    }
    treated, other = legs[case.side], legs[case.side.other()]
    if treated is None:
        raise Missing(
            f"no film shows the {case.side} leg.",
            where="films",
            next_step=f"Mark the landmarks of the {case.side} leg, or correct the side of the case.",
        )
    difference = None
    if other is not None and treated.views.frontal is not None and other.views.frontal is not None:
        difference = _difference(case, treated.views.frontal, other.views.frontal)
    use_other = None if profile.prefer_opposite_leg_template else False
    aims: dict[Measure, Template] = {}
    for projection in Projection:
        theirs = None if other is None else _of(other, projection)
        mine = _of(treated, projection)
        both = Readings(values=(), not_measured=()) if theirs is None else theirs
        found = templates(both, age_years=age_years, other_leg_is_normal=use_other)
        measured = {r.measure for r in (*mine.values, *both.values)}
        aims |= {measure: aim for measure, aim in found.items() if measure in measured or measure not in aims}
    return MeasuredCase(
        side=case.side,
        age_years=age_years,
        treated=treated,
        other=other,
        difference=difference,
        templates=aims,
        findings=ordered(
            _once(
                (
                    *treated.views.findings,
                    *(other.views.findings if other else ()),
                    *(difference.findings if difference else ()),
                )
            )
        ),
    )


def measured_leg(
    films: tuple[Film, ...],
    side: Side,
    *,
    age_years: float,
    profile: Profile,
    stated: Mapping[str, Stated] | None = None,
) -> MeasuredLeg | None:
    """One leg measured on both projections; None when no film shows it."""
    views = views_of(films, side, stated=stated, reading_error=reading_error_of(profile))
    if views.frontal is None and views.sagittal is None:
        return None

    def read(view: View | None) -> Readings:
        return _NOTHING if view is None else readings(view, age_years=age_years)

    return MeasuredLeg(views=views, frontal=read(views.frontal), sagittal=read(views.sagittal))


def films_before_operation(case: Case) -> tuple[Film, ...]:
    """Films that are not dated after the first operation."""
    days = [t.operated_on for t in case.course.treatments] if case.course else []
    first = min(days, default=date.max)
    return tuple(film for film in case.films if film.taken_on is None or film.taken_on <= first)


def reading_error_of(profile: Profile) -> ReadingError:
    """Reading errors of marks as the practice has set them."""
    return ReadingError(
        centre_mm=profile.centre_landmark_sd_mm,
        joint_line_mm=profile.joint_line_landmark_sd_mm,
        shaft_mm=profile.landmark_sd_mm,
        tip_mm=profile.tip_landmark_sd_mm,
    )


def _of(leg: MeasuredLeg, projection: Projection) -> Readings:
    return leg.frontal if projection is Projection.FRONTAL else leg.sagittal


def _difference(case: Case, treated: View, other: View) -> Discrepancy:
    examined = case.examination
    # Blocks go under the short leg and feet are compared as other minus treated: both turn sign here.
    return discrepancy(
        treated,
        other,
        foot_difference_mm=_negative(examined.foot_height_difference_mm),
        block_test_mm=_negative(examined.block_test_mm),
    )


def _negative(value: float | None) -> float | None:
    return None if value is None else -value


def _once(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Each statement once: a film of both legs would say the same about its scale twice."""
    return tuple({(f.id, f.words): f for f in findings}.values())
