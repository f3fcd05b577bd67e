"""`limbwright sheet CASE`: the patient's page and diary as PDF."""

from datetime import date, datetime
from pathlib import Path

import click

from limbwright.cli import load, options, show
from limbwright.course.patient.translation import LANGUAGES
from limbwright.error import Missing
from limbwright.report.patient_sheet import DIARY_DAYS, printed_diary, printed_patient_sheet


@click.command("sheet")
@options.case
@click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default=LANGUAGES[0],
    show_default=True,
    help="Language of the patient.",
)
@click.option("--telephone", default="", help="The practice's number, printed with the reasons to call.")
@click.option(
    "--on",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="The day it is handed out; today without it.",
)
@click.option(
    "--days",
    type=click.IntRange(1, 400),
    default=DIARY_DAYS,
    show_default=True,
    help="Days of the diary.",
)
@click.option(
    "--into", type=click.Path(path_type=Path), default=Path(), help="Folder to write to; here without it."
)
@options.profile
def command(
    *,
    case: Path,
    language: str,
    telephone: str,
    on: datetime | None,
    days: int,
    into: Path,
    profile: Path | None,
) -> None:
    """Write the patient's page of CASE (what to do each day, weight, when to call) and the diary to tick."""
    subject = load.case_at(case, complete=False)
    day = date.today() if on is None else on.date()
    with show.progress("Typesetting"):
        written = {
            "patient-sheet.pdf": printed_patient_sheet(
                subject, load.profile_at(profile), on=day, language=language, telephone=telephone
            )
        }
        try:
            written["diary.pdf"] = printed_diary(subject, on=day, days=days, language=language)
        except Missing as nothing_left:
            show.console().print(f"No diary: {nothing_left.found}", markup=False)
    into.mkdir(parents=True, exist_ok=True)
    for name, content in written.items():
        file = into / name
        file.write_bytes(content)
        show.console().print(str(file), markup=False)
    show.caution()
