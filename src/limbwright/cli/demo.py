"""`limbwright demo`: films of three invented patients, their plans, and their reports."""

from pathlib import Path

import click

from limbwright.case.case import Case
from limbwright.case.planned import planned_case
from limbwright.cli import load, show
from limbwright.cli.demo_films import invented_case
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
@click.option(
    "--store",
    "home",
    type=click.Path(path_type=Path, file_okay=False),
    help="Also put the cases, and three invented courses, into the practice in this folder.",
)
def command(into: Path, home: Path | None) -> None:
    """Make films of three invented patients, print the plan of the first, write the reports of all."""
    profile, catalogue = load.profile_at(None), load.catalogue_at(None)
    taken = []
    for number, demo in enumerate(DEMO_PATIENTS):
        folder = into / demo.id
        with show.progress(f"{demo.title}: films and plan"):
            invented, contents = invented_case(demo)
            taken.append((invented, contents))
            path = written(invented, contents, folder)
            case = load.case_at(path)
            if number == 0:
                planned = planned_case(case, profile, catalogue)
                print_plan(planned, planned.findings)
        with show.progress(f"{demo.title}: forecast and report"):
            files = write_report(
                case, path, into=folder, operated_on=OPERATION_ON, profile=profile, catalogue=catalogue
            )
        show.console().print(f"{demo.id} (invented): {demo.title}", style="bold", markup=False)
        for file in (path, *files.files):
            show.console().print(f"  {file}", markup=False)
    if home is not None:
        _kept(home, taken)


def _kept(home: Path, taken: list[tuple[Case, tuple[bytes, ...]]]) -> None:
    """Put the cases and the invented courses into a practice; what is there already stays as it is."""
    from limbwright.cli.demo_store import fill_with_courses, keep_demo
    from limbwright.store.store import open_store

    with open_store(home) as store:
        for case, contents in taken:
            keep_demo(store, case, contents)
        with show.progress("Three invented courses: follow-up films, read back"):
            fill_with_courses(store)


def written_case(demo: DemoPatient, folder: Path, *, pixel_mm: float | None = None) -> Path:
    """Write an invented patient's films and case file into a folder; the path of the case file."""
    return written(*invented_case(demo, pixel_mm=pixel_mm), folder)


def written(case: Case, contents: tuple[bytes, ...], folder: Path) -> Path:
    """Write a case and its films into a folder; the path of the case file."""
    folder.mkdir(parents=True, exist_ok=True)
    for film, content in zip(case.films, contents, strict=True):
        if film.file is not None:
            (folder / film.file).write_bytes(content)
    path = folder / "case.json"
    write_case(path, case)
    return path
