"""`limbwright course CASE`: where the leg is, where it is heading, and what to weigh."""

from datetime import date, datetime
from pathlib import Path

import click

from limbwright.case.followed import followed_case
from limbwright.cli import load, options, show
from limbwright.course.advice.weight import WeightStep, weight_allowed
from limbwright.course.drift_watch import DriftWatch
from limbwright.course.forecast import DayRange
from limbwright.course.outlook import BoneOutlook
from limbwright.course.standing import Standing
from limbwright.course.what_if import WhatIf, at_another_rate
from limbwright.interop.plain_course import course_outlook_plain, what_if_plain
from limbwright.limb.anatomy import Projection
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Measured, directed, lb_from_kg
from limbwright.report import words


def _date(_context: click.Context, _parameter: click.Parameter, value: datetime | None) -> date | None:
    return None if value is None else value.date()


@click.command("course")
@options.case
@click.option(
    "--on",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    callback=_date,
    help="The day asked for; today without it.",
)
@click.option(
    "--rate",
    "rate_mm_per_day",
    type=click.FloatRange(0.05, 5.0),
    metavar="MM",
    help="Try another rate in mm a day from tomorrow on; nothing is changed by it.",
)
@options.profile
@options.as_json
def command(
    case: Path, on: date | None, rate_mm_per_day: float | None, profile: Path | None, json_: bool
) -> None:
    """Follow CASE after its operation: length, drift, new bone, forecast, and what the rules say."""
    subject = load.case_at(case, complete=False)
    outlook = followed_case(subject, load.profile_at(profile), on=on or date.today())
    tried = (
        []
        if rate_mm_per_day is None
        else [
            (b.standing, at_another_rate(b.standing, rate_mm_per_day))
            for b in outlook.bones
            if b.standing.lengthening
        ]
    )
    if json_:
        plain = course_outlook_plain(outlook)
        if rate_mm_per_day is not None:
            plain["what_if"] = [what_if_plain(one, s) for s, one in tried]
        show.as_json({"case": subject.id, **plain})
    else:
        for bone in outlook.bones:
            _print(bone)
        show.findings(outlook.findings)
        for s, one in tried:
            _print_what_if(s, one)
            show.findings(one.findings)
        show.caution()
    show.exit_for(outlook.findings)


def _print(bone: BoneOutlook) -> None:
    s = bone.standing
    last, film = s.book.last, s.book.last_measured()
    show.console().print(
        f"{s.bone}, day {s.today} ({s.on:%d %b %Y}): {_plus(s.now.length, 'mm')} of "
        f"{s.treatment.target_mm:g} mm",
        style="bold",
        markup=False,
    )
    measured = (
        "–"
        if film is None or film.measured is None
        else f"{_plus(film.measured, 'mm')} on {film.on:%d %b %Y}"
    )
    rows = [
        ("length measured last", measured),
        ("length reported", f"{last.reported_mm:g} mm"),
        ("length prescribed", f"{last.prescribed_mm:g} mm"),
        ("gained of what is reported", f"{100 * s.now.given_per_mm.value:.0f} %"),
        *((f"{plane.projection} film", _angle(plane, plane.now)) for plane in s.drift),
        ("density of the deciding cortex", f"{s.now.ratio.value:.2f} ± {1.96 * s.now.ratio.sd:.2f}"),
        ("weight on the leg", _weight(s)),
    ]
    show.table("Where it is (± 95 %)", ("", ""), rows)
    ahead = [
        *((f"{plane.projection} film at full length", _angle(plane, plane.at_end)) for plane in s.drift),
        *(
            (f"{plane.limit_deg:g} deg passed on the {plane.projection} film", _crossing(plane, s))
            for plane in s.drift
        ),
        ("healed", _healed(s)),
    ]
    if s.lengthening:
        ahead.insert(0, ("target reached", _range(s.ahead.target_day, s)))
    show.table("Where it is heading, as prescribed (95 % interval)", ("", ""), ahead)
    if bone.history:
        show.table(
            "Visits",
            ("", "day", "pace", "found"),
            [
                (
                    f"{on:%d %b %Y}",
                    str(s.treatment.day_number(on)),
                    said.pace.value,
                    ", ".join(f.id for f in said.findings if not f.id.startswith("advice-")),
                )
                for on, said in bone.history
            ],
            right=(1,),
        )


def _print_what_if(s: Standing, tried: WhatIf) -> None:
    rate = tried.change.phases[0].rate_mm_per_day
    frontal_was, sagittal_was = tried.drift_before
    frontal, sagittal = tried.drift_after
    show.table(
        f"{s.bone} at {rate:g} mm a day from day {tried.change.from_day} on, tried out",
        ("", "as prescribed", "at this rate"),
        [
            (
                "target reached",
                _range(tried.before.target_day, s),
                _range(tried.after.target_day, s),
            ),
            ("healed", _range(tried.before.healed_day, s), _range(tried.after.healed_day, s)),
            (
                "frontal film at full length",
                _angle(frontal_was, frontal_was.at_end),
                _angle(frontal, frontal.at_end),
            ),
            (
                "sagittal film at full length",
                _angle(sagittal_was, sagittal_was.at_end),
                _angle(sagittal, sagittal.at_end),
            ),
            (
                f"{frontal.limit_deg:g} deg passed, frontal",
                _crossing(frontal_was, s),
                _crossing(frontal, s),
            ),
        ],
    )


def _plus(value: Measured, unit: str) -> str:
    return f"{value.value:.1f} ± {1.96 * value.sd:.1f} {unit}"


def _angle(plane: DriftWatch, angle: Measured) -> str:
    senses = VARUS_VALGUS if plane.projection is Projection.FRONTAL else PROCURVATUM_RECURVATUM
    return words.measured(angle, directed(angle.value, unit="deg", senses=senses))


def _weight(s: Standing) -> str:
    allowed = weight_allowed(s)
    if allowed.step is WeightStep.FULL:
        return "full weight can be considered"
    limit = (
        "no limit known"
        if allowed.limit_kg is None
        else f"up to {allowed.limit_kg:.1f} kg ({lb_from_kg(allowed.limit_kg):.0f} lb)"
    )
    return f"{limit}; more can be considered" if allowed.step is WeightStep.MORE else limit


def _range(days: DayRange, s: Standing) -> str:
    if days.likely is None:
        return "not foreseen" if days.early is None else f"not likely; day {days.early} at the earliest"
    span = f"{days.early} or later" if days.late is None else f"{days.early} to {days.late}"
    return f"day {days.likely} ({s.day_on(days.likely):%d %b %Y}), {span}"


def _healed(s: Standing) -> str:
    done = s.treatment.consolidated_on
    return (
        _range(s.ahead.healed_day, s) if done is None or done > s.on else f"consolidated on {done:%d %b %Y}"
    )


def _crossing(plane: DriftWatch, s: Standing) -> str:
    if plane.crossing_day is not None:
        return f"about day {plane.crossing_day} ({s.day_on(plane.crossing_day):%d %b %Y})"
    return f"not likely ({100 * plane.beyond_at_end:.0f} %)"
