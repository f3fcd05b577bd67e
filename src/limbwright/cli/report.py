"""`limbwright report CASE`: the operation plan as PDF, JSON and calendar."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import click

from limbwright.case.candidates import CaseCandidates, case_candidates, case_uncertainty
from limbwright.case.case import Case
from limbwright.case.forecast import case_ahead
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli import load, options, show
from limbwright.course.course import Treatment
from limbwright.course.schedule import schedule
from limbwright.film.reading.picture import Picture
from limbwright.film.reading.read import read_picture
from limbwright.implant.catalogue import Catalogue
from limbwright.interop.calendar import calendar_file, schedule_events
from limbwright.interop.case_file import film_bytes
from limbwright.interop.plain_candidates import candidates_plain, uncertainty_plain
from limbwright.interop.plain_forecast import case_ahead_plain
from limbwright.interop.plain_plan import planned_case_plain
from limbwright.practice.profile import Profile
from limbwright.report.operation_plan import printed_operation_plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The files that were written, and what they rest on."""

    planned: PlannedCase
    found: CaseCandidates | None
    files: tuple[Path, ...]


@click.command("report")
@options.case
@click.option(
    "--into", type=click.Path(path_type=Path), default=Path(), help="Folder to write to; here without it."
)
@options.operated_on
@options.candidates
@options.profile
@options.catalogue
def command(
    case: Path,
    into: Path,
    operated_on: date | None,
    profile: Path | None,
    catalogue: Path | None,
    *,
    candidates: bool,
) -> None:
    """Write the operation plan of CASE as PDF, with its JSON and the calendar beside it."""
    subject = load.case_at(case)
    with show.progress("Planning and typesetting"):
        written = write_report(
            subject,
            case,
            into=into,
            operated_on=operated_on or date.today(),
            profile=load.profile_at(profile),
            catalogue=load.catalogue_at(catalogue),
            candidates=candidates,
        )
    for file in written.files:
        show.console().print(str(file), markup=False)
    show.caution()
    show.exit_for(written.planned.findings)


def write_report(
    case: Case,
    path: Path,
    *,
    into: Path,
    operated_on: date,
    profile: Profile,
    catalogue: Catalogue,
    candidates: bool = True,
) -> Written:
    """Plan a case and write its report, JSON and calendar into a folder, which is made when missing.

    Parameters
    ----------
    case, path : Case, Path
        The case and the file it was read from; films are looked for beside it.
    operated_on : date
        Day 0 of the schedule; also the day printed on the report.
    candidates : bool
        Whether other plans are searched and printed beside this one.
    """
    stated, _ = load.headers_of(case, path)
    planned = planned_case(case, profile, catalogue, stated=stated)
    ahead = None if planned.plan is None else case_ahead(case, planned, profile)
    sure = None if ahead is None or not ahead.bones else case_uncertainty(case, planned, ahead, profile)
    found = case_candidates(case, planned, profile, catalogue) if candidates else None
    treatments = tuple(Treatment(operated_on=operated_on, prescription=p) for p in planned.prescriptions)
    schedules = tuple(schedule(t.prescription, operated_on) for t in treatments)
    pdf = printed_operation_plan(
        case,
        planned,
        profile,
        schedules=schedules,
        pictures=_pictures(case, path),
        printed_on=operated_on,
        ahead=ahead,
        found=found,
        sure=sure,
    )
    into.mkdir(parents=True, exist_ok=True)
    files = {
        into / "operation-plan.pdf": pdf,
        into / "operation-plan.json": show.json_text(
            {
                "case": case.id,
                **planned_case_plain(planned, planned.findings),
                "forecast": None if ahead is None else case_ahead_plain(ahead, ahead.findings),
                "uncertainty": None if sure is None else uncertainty_plain(sure),
                "candidates": None
                if found is None
                else candidates_plain(found, case, planned, profile, catalogue),
            }
        ).encode(),
    }
    if treatments:
        events = tuple(event for t in treatments for event in schedule_events(case.id, t))
        moment = datetime.combine(operated_on, datetime.min.time(), tzinfo=UTC)
        files[into / "schedule.ics"] = calendar_file(events, stamped_at=moment)
    for file, content in files.items():
        file.write_bytes(content)
    return Written(planned=planned, found=found, files=tuple(files))


def _pictures(case: Case, path: Path) -> dict[str, Picture]:
    return {
        film.name: read_picture(film_bytes(path, film), name=film.name).picture
        for film in case.films
        if film.file is not None
    }
