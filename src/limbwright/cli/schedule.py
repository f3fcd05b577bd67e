"""`limbwright schedule CASE`: the lengthening day by day, and as a calendar file."""

from datetime import UTC, date, datetime
from pathlib import Path

import click

from limbwright.case.planned import planned_case
from limbwright.cli import load, options, show
from limbwright.course.course import Treatment
from limbwright.course.limits import prescription_findings
from limbwright.course.patient.translation import LANGUAGES
from limbwright.course.schedule import Day, last_distraction_day, schedule
from limbwright.error import Refused
from limbwright.finding import ordered
from limbwright.interop.calendar import calendar_file, schedule_events
from limbwright.interop.plain_plan import day_plain, prescription_plain


@click.command("schedule")
@options.case
@options.operated_on
@click.option(
    "--calendar", type=click.Path(path_type=Path), metavar="ICS", help="Write a calendar file (RFC 5545)."
)
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default="en",
    show_default=True,
    help="Language of the calendar.",
)
@options.profile
@options.catalogue
@options.as_json
def command(  # noqa: PLR0917 (click passes options by name)
    case: Path,
    operated_on: date | None,
    calendar: Path | None,
    language: str,
    profile: Path | None,
    catalogue: Path | None,
    json_: bool,
) -> None:
    """Lay out the lengthening of CASE day by day: steps, length gained, film days."""
    subject = load.case_at(case)
    rules = load.profile_at(profile)
    with show.progress("Planning"):
        planned = planned_case(subject, rules, load.catalogue_at(catalogue))
    if planned.plan is None:
        raise Refused(
            "there is no plan to prescribe for.",
            where=f"case {subject.id}",
            next_step="Run 'limbwright plan' and resolve its stops.",
        )
    day0 = operated_on or date.today()
    treatments = tuple(Treatment(operated_on=day0, prescription=p) for p in planned.prescriptions)
    tables = {t.prescription.bone: schedule(t.prescription, day0) for t in treatments}
    nails = {b.bone: b.nail for b in planned.plan.bones}
    findings = ordered(
        tuple(
            finding
            for t in treatments
            for finding in prescription_findings(
                t.prescription,
                tables[t.prescription.bone],
                profile=rules,
                stroke_mm=nails[t.prescription.bone].stroke_mm,
                nail_rate_limit_mm_per_day=nails[t.prescription.bone].rate_limit_mm_per_day,
            )
        )
    )
    if calendar is not None:
        events = tuple(
            event for t in treatments for event in schedule_events(subject.id, t, language=language)
        )
        calendar.write_bytes(calendar_file(events, stamped_at=datetime.now(tz=UTC)))
    if json_:
        show.as_json(
            {
                "case": subject.id,
                "operated_on": day0.isoformat(),
                "bones": [
                    {
                        **prescription_plain(t.prescription),
                        "days": [day_plain(d) for d in tables[t.prescription.bone]],
                    }
                    for t in treatments
                ],
                "findings": [f.id for f in findings],
            }
        )
    else:
        for bone, days in tables.items():
            _print(bone.value, days)
        show.findings(findings)
        if calendar is not None:
            show.console().print(f"Calendar: {calendar}", markup=False)
        show.caution()
    show.exit_for(findings)


def _print(bone: str, days: tuple[Day, ...]) -> None:
    last = last_distraction_day(days)
    show.table(
        f"{bone}: last lengthening on day {last.number}, {last.on:%d %b %Y}",
        ("day", "date", "", "steps", "gained", ""),
        [
            (
                str(d.number),
                f"{d.on:%a %d %b %Y}",
                d.phase,
                f"{d.steps} × {d.step_mm:g} mm" if d.steps else "",
                f"{d.gained_mm:g} mm",
                "film" if d.film else "",
            )
            for d in days
        ],
        right=(0, 3, 4),
    )
