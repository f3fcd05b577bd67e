"""`limbwright audit FOLDER`: what all cases of a practice teach, and what that offers to its profile."""

from pathlib import Path

import click

from limbwright.case.audit_columns import audit_columns
from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.cli import audit_tables, load, options, show
from limbwright.error import LimbwrightError, Missing, Unreadable
from limbwright.interop.plain_audit import audit_plain
from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.funnel import Period
from limbwright.practice.audit.offer import offered_settings
from limbwright.practice.audit.sheet import columns_sheet, csv_text, result_sheets


@click.command("audit")
@click.argument("folder", type=click.Path(path_type=Path))
@options.profile
@click.option(
    "--period",
    type=click.Choice([period.value for period in Period]),
    default=Period.YEAR.value,
    show_default=True,
    help="Periods in which rates are compared.",
)
@click.option(
    "--invented", is_flag=True, help="Count invented (demo) cases too; they are left out without it."
)
@click.option("--csv", "csv_", type=click.Path(path_type=Path), metavar="DIR", help="Write results as CSV.")
@options.as_json
def command(
    *, folder: Path, profile: Path | None, period: str, invented: bool, csv_: Path | None, json_: bool
) -> None:
    """Audit all case files (*.json) in FOLDER and the folders in it."""
    settings = load.profile_at(profile)
    cases, unread = _cases_in(folder)
    counted = [case for case in cases if invented or not case.invented]
    left_out = len(cases) - len(counted)
    with show.progress("Auditing"):
        given = audit_columns(counted, settings)
        columns = given.columns
        results = practice_audit(columns, settings, period=Period(period))
        offers = offered_settings(results, settings)
    if csv_ is not None:
        _write_csv(
            csv_,
            {
                s.name: csv_text(s, first_line=CAUTION)
                for s in (*result_sheets(results, offers), columns_sheet(columns))
            },
        )
    if json_:
        show.as_json(
            {
                "case_files": len(cases) + len(unread),
                "not_read": [{"file": str(path), "found": str(error)} for path, error in unread],
                "invented_left_out": left_out,
                "left_out": [
                    {"case": one.case_id, "found": one.found, "next": one.next_step} for one in given.left_out
                ],
                **audit_plain(results, offers),
            }
        )
    else:
        words = f"{len(cases)} cases, {results.n} treated bones"
        words += f"; {left_out} invented cases left out (--invented counts them)" if left_out else ""
        show.console().print(words + "\n", markup=False)
        if unread:
            files = [(str(path), str(error)) for path, error in unread]
            show.table(f"Not read, {len(files)} files", ("file", "why"), files)
        if given.left_out:
            rows = [(one.case_id, one.found, one.next_step) for one in given.left_out]
            show.table(f"Not counted, {len(rows)} cases", ("case", "why", "what to do"), rows)
        audit_tables.print_audit(results, offers)
        show.findings(results.findings)
        show.caution()
    show.exit_for(results.findings)


def _cases_in(folder: Path) -> tuple[list[Case], list[tuple[Path, LimbwrightError]]]:
    """All cases that can be read, and the files that cannot with the reason."""
    if not folder.is_dir():
        raise Unreadable(
            "this is no folder.",
            where=str(folder),
            next_step="Name the folder with the practice's case files.",
        )
    paths = sorted(path for path in folder.rglob("*.json") if not path.name.startswith("."))
    if not paths:
        raise Missing(
            "no case file (*.json) in this folder.",
            where=str(folder),
            next_step="Name the folder with the practice's case files.",
        )
    cases, unread = [], []
    for path in paths:
        try:
            cases.append(load.case_at(path, complete=False))
        except LimbwrightError as error:
            unread.append((path, error))
    return cases, unread


def _write_csv(folder: Path, texts: dict[str, str]) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    except OSError as error:
        raise Unreadable(
            f"the results cannot be written ({error.strerror or error}).",
            where=str(folder),
            next_step="Check the folder, its free space, and that you may write to it.",
        ) from error
