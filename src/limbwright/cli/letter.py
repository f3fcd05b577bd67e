"""`limbwright letter CASE`: the closing letter of a course as PDF."""

from datetime import date
from pathlib import Path

import click

from limbwright.cli import load, options, show
from limbwright.report.closing_letter import printed_closing_letter


@click.command("letter")
@options.case
@click.option(
    "--into", type=click.Path(path_type=Path), default=Path(), help="Folder to write to; here without it."
)
@options.profile
def command(case: Path, into: Path, profile: Path | None) -> None:
    """Write the closing letter of CASE: planned, achieved, motion, adverse events, what is left to do."""
    subject = load.case_at(case, complete=False)
    with show.progress("Typesetting"):
        letter = printed_closing_letter(subject, load.profile_at(profile), printed_on=date.today())
    into.mkdir(parents=True, exist_ok=True)
    file = into / "closing-letter.pdf"
    file.write_bytes(letter)
    show.console().print(str(file), markup=False)
    show.caution()
