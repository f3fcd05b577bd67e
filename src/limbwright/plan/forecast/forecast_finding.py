"""What a forecast of drift means for the plan."""

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Projection
from limbwright.mechanics import Outcome, Plane
from limbwright.plan.forecast.drift_course import Band, BoneForecast, CourseOfDrift, PlaneForecast
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import Source, Status
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Sense, directed

MODEL = Source(text="nail-in-canal model, docs/mechanics.md; not validated clinically", status=Status.DERIVED)
SENSES = {Plane.FRONTAL: VARUS_VALGUS, Plane.SAGITTAL: PROCURVATUM_RECURVATUM}
NOT_VALIDATED = (
    "The forecast of drift comes from a mechanical model that has not been validated on patients. Its "
    "arithmetic is checked; loads of soft tissue, play and new bone are assumptions."
)


def said_deg(value: float | None, plane: Plane) -> str:
    """An angle with its word, or that there is none."""
    if value is None:
        return "no number"
    way = directed(value, unit="deg", senses=SENSES[plane])
    return f"{way.magnitude:.1f} deg" + ("" if way.direction is Sense.NONE else f" {way.direction}")


def forecast_findings(made: BoneForecast, profile: Profile) -> tuple[Finding, ...]:
    """Everything to weigh about one bone's forecast."""
    found = [*made.modelled.findings, *_trouble(made)]
    if made.planned.drift() is not None:
        found.append(_drift(made, profile))
        if made.bare is None and _keeps(made.planned, profile):
            found.append(_not_needed(made, profile))
    found += _slack(made)
    found.append(
        Finding(
            id="forecast-not-validated",
            severity=Severity.NOTE,
            words=NOT_VALIDATED,
            next_step="Weigh it against your own experience, and compare it with the films as they come.",
            rule="Every forecast says what it rests on.",
            source=MODEL,
        )
    )
    return tuple(found)


def within_limit(course: CourseOfDrift, profile: Profile) -> bool:
    """Whether the coupled drift of both planes stays within the profile's limit at every moment."""
    values = [course.largest_deg(plane) for plane in Plane]
    return all(v is not None and abs(v) <= profile.drift_limit_deg for v in values)


def could_exceed(course: CourseOfDrift, profile: Profile) -> bool:
    """Whether the band of either plane leaves the limit at full length."""
    bands = [course.end.in_plane(plane).band for plane in Plane]
    return any(b is not None and max(abs(b.low), abs(b.high)) > profile.drift_limit_deg for b in bands)


def _keeps(course: CourseOfDrift, profile: Profile) -> bool:
    return within_limit(course, profile) and not could_exceed(course, profile)


def said_band(band: Band, plane: Plane) -> str:
    """A range of angles, with one word where both ends have the same."""
    words = SENSES[plane]
    if band.low >= 0:
        return f"{band.low:.1f} to {band.high:.1f} deg {words[0]}"
    if band.high <= 0:
        return f"{-band.high:.1f} to {-band.low:.1f} deg {words[1]}"
    return f"{-band.low:.1f} deg {words[1]} to {band.high:.1f} deg {words[0]}"


def _with_band(plane: PlaneForecast, axis: Plane) -> str:
    if plane.band is None:
        return said_deg(plane.angulation_deg, axis)
    return f"{said_deg(plane.angulation_deg, axis)} (nine in ten {said_band(plane.band, axis)})"


def _drift(made: BoneForecast, profile: Profile) -> Finding:
    end, limit = made.planned.end, profile.drift_limit_deg
    beyond = not within_limit(made.planned, profile)
    perhaps = not beyond and could_exceed(made.planned, profile)
    screws = len(made.modelled.construct.blocking_screws)
    how = (
        f"with the {screws} planned blocking screw{'s' if screws > 1 else ''}"
        if screws
        else ("without blocking screws")
    )
    words = (
        f"Forecast for the {made.bone} at full length, {how}: "
        f"{_with_band(end.frontal, Plane.FRONTAL)} and {_with_band(end.sagittal, Plane.SAGITTAL)}"
    )
    if end.oblique_deg is not None:
        words += f", {end.oblique_deg:.1f} deg in its own plane"
    words += "."
    if made.bare is not None:
        bare = made.bare.end
        words += (
            f" Without screws {said_deg(bare.frontal.angulation_deg, Plane.FRONTAL)} and "
            f"{said_deg(bare.sagittal.angulation_deg, Plane.SAGITTAL)}."
        )
    if beyond:
        words += f" That is beyond the limit of {limit:g} deg."
    elif perhaps:
        words += f" The limit of {limit:g} deg may be passed."
    numbers = [
        Number(name=f"{plane} angulation at full length", value=value, unit="deg")
        for plane in Plane
        if (value := end.in_plane(plane).angulation_deg) is not None
    ]
    return Finding(
        id="drift-forecast",
        severity=Severity.CAUTION if beyond or perhaps else Severity.NOTE,
        words=words,
        next_step="Consider the layouts of blocking screws, a thicker nail, or another level; watch the "
        "films of the course."
        if beyond or perhaps
        else "Compare with the films of the course.",
        numbers=tuple(numbers),
        rule=f"Drift in either plane stays within {limit:g} deg.",
        source=rule_source(profile, "drift_limit_deg"),
    )


def _not_needed(made: BoneForecast, profile: Profile) -> Finding:
    oblique = made.planned.end.oblique_deg
    return Finding(
        id="no-blocking-screw-needed",
        severity=Severity.NOTE,
        words=f"No blocking screw is needed to keep the {made.bone} within {profile.drift_limit_deg:g} deg: "
        f"both planes solved together end {oblique or 0.0:.1f} deg from the reduction, and nine draws in ten "
        "stay within the limit.",
        next_step="Check the gap beside the nail on the image intensifier after reaming.",
        rule="Only the solve of both planes together may say that no screw is needed.",
        source=MODEL,
    )


def _slack(made: BoneForecast) -> list[Finding]:
    screws = made.modelled.construct.blocking_screws
    found = []
    for index in made.planned.end.slack:
        first = next(m for m in made.planned.moments if index in m.slack)
        screw = screws[index]
        gained = (
            made.modelled.construct.nail.thick_diameter_mm - made.modelled.construct.nail.thin_diameter_mm
        ) / 2
        found.append(
            Finding(
                id="blocking-screw-slack",
                severity=Severity.CAUTION,
                words=f"The {screw.side} blocking screw in the "
                f"{made.modelled.fragment_of(screw.fragment)} fragment of the {made.bone} stands beside the "
                f"thin rod from {first.lengthening_mm:.0f} mm (day {first.day:.0f}) on and is slack by "
                f"{gained:.1f} mm more: it no longer holds what it was put in for.",
                next_step="Put it nearer to the osteotomy, choose a longer nail, or set it against the rod.",
                numbers=(Number(name="extra play", value=gained, unit="mm"),),
                rule="The thick part withdraws from the moving fragment as the nail lengthens.",
                source=MODEL,
            )
        )
    return found


def _trouble(made: BoneForecast) -> list[Finding]:
    """Outcomes that carry no number, or one that is only a warning; each said once, where it begins."""
    found = []
    for outcome in (Outcome.NAIL_FORCED, Outcome.UNDETERMINED):
        first = next((m for m in made.planned.moments if outcome in m.outcomes), None)
        if first is None:
            continue
        if outcome is Outcome.NAIL_FORCED:
            found.append(_forced(made, first.lengthening_mm))
        else:
            found.append(_undetermined(made, made.planned))
    numberless = (Outcome.NOTHING_HOLDS, Outcome.NAIL_WIDER_THAN_CANAL, Outcome.NOT_PROVED)
    for moment in made.planned.moments:
        bad = next((o for o in moment.outcomes if o in numberless), None)
        if bad is not None:
            found.append(_no_number(made, bad, moment.lengthening_mm))
            break
    return found


def _forced(made: BoneForecast, gained_mm: float) -> Finding:
    return Finding(
        id="nail-forced",
        severity=Severity.CAUTION,
        words=f"At {gained_mm:.0f} mm of lengthening the nail in the {made.bone} is pressed with more than "
        "2 kN: walls, bend and screws do not leave it the line it was planned on.",
        next_step="Ream wider, move the nail's line, or take a blocking screw out of the plan.",
        rule="Contact beyond 2 kN means that the geometry does not fit, whatever the tissue does.",
        source=MODEL,
    )


def _undetermined(made: BoneForecast, course: CourseOfDrift) -> Finding:
    parts = []
    for plane, film in zip(Plane, Projection, strict=True):
        play = next((m.in_plane(plane).play for m in course.moments if m.in_plane(plane).play), None)
        if play is not None:
            parts.append(f"{film} {said_band(play, plane)}")
    return Finding(
        id="drift-within-play",
        severity=Severity.CAUTION,
        words=f"Nothing presses the nail in the {made.bone} to one side: it may lie anywhere in its play, "
        f"{' and '.join(parts)}.",
        next_step="Take the whole range into account, or take the play away with a blocking screw.",
        rule="Without a load worth the name the place inside the play is not determined.",
        source=MODEL,
    )


def _no_number(made: BoneForecast, outcome: Outcome, gained_mm: float) -> Finding:
    return Finding(
        id="no-forecast",
        severity=Severity.CAUTION,
        words=f"No forecast of drift for the {made.bone} from {gained_mm:.0f} mm on: {outcome}.",
        next_step="Check nail diameter, reamer, traced walls and the places of the screws.",
        rule="The model gives a number only where its answer is proved.",
        source=MODEL,
    )
