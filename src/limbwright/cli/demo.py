"""`limbwright demo`: films of three invented patients, their plans, and their reports."""

from pathlib import Path

import click

from limbwright.case.case import Case
from limbwright.case.planned import planned_case
from limbwright.cli import load, show
from limbwright.cli.demo_films import films_of
from limbwright.cli.demo_patients import DEMO_PATIENTS, OPERATION_ON, DemoPatient
from limbwright.cli.plan import print_plan
from limbwright.cli.report import write_report
from limbwright.interop.case_file import write_case


@click.command("demo")
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    default=Path("limbwright-demo"),
    show_default=True,
    help="Folder to write to.",
)
def command(into: Path) -> None:
    """Make films of three invented patients, print the plan of the first, write the reports of all."""
    profile, catalogue = load.profile_at(None), load.catalogue_at(None)
    for number, demo in enumerate(DEMO_PATIENTS):
        folder = into / demo.id
        with show.progress(f"{demo.title}: films and plan"):
            path = written_case(demo, folder)
            case = load.case_at(path)
            if number == 0:
                planned = planned_case(case, profile, catalogue)
                print_plan(planned, planned.findings)
        with show.progress(f"{demo.title}: forecast and report"):
            written = write_report(
                case, path, into=folder, operated_on=OPERATION_ON, profile=profile, catalogue=catalogue
            )
        show.console().print(f"{demo.id} (invented): {demo.title}", style="bold", markup=False)
        for file in (path, *written.files):
            show.console().print(f"  {file}", markup=False)


def written_case(demo: DemoPatient, folder: Path) -> Path:
    """Write an invented patient's films and case file into a folder; the path of the case file."""
    folder.mkdir(parents=True, exist_ok=True)
    films = films_of(demo)
    for film, content in films:
        if film.file is not None:
            (folder / film.file).write_bytes(content)
    case = Case(
        id=demo.id,
        invented=True,
        side=demo.side,
        diagnosis=demo.diagnosis,
        patient=demo.patient,
        films=tuple(film for film, _ in films),
        examination=demo.examination,
        goal=demo.goal,
    )
    path = folder / "case.json"
    write_case(path, case)
    return path
