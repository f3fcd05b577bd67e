"""`limbwright visit CASE`: a follow-up film read for a visit, from rough clicks."""

import json
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import click

from limbwright.case.visit_film import across_to, read_visit_film
from limbwright.cli import load, options, show
from limbwright.course.film_clicks import FilmClicks
from limbwright.course.visit import Visit
from limbwright.error import Missing, Unreadable
from limbwright.film.reading import read_picture
from limbwright.interop.case_file import film_bytes, write_case
from limbwright.interop.plain_film_reading import film_reading_plain
from limbwright.limb.anatomy import Bone


@click.command("visit")
@options.case
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), required=True, help="Day of the visit.")
@click.option("--film", required=True, help="Name of the film in the case file.")
@click.option(
    "--clicks",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    required=True,
    help='JSON object of points, {"nail_thick_end": [column, row], ...}.',
)
@click.option(
    "--bone", type=click.Choice(["femur", "tibia"]), default="tibia", show_default=True, help="Bone."
)
@click.option("--write", is_flag=True, help="Write marks and readings into the visit of the case file.")
@options.profile
@options.as_json
def command(
    *,
    case: Path,
    on: datetime,
    film: str,
    clicks: Path,
    bone: str,
    write: bool,
    profile: Path | None,
    json_: bool,
) -> None:
    """Read a follow-up film of CASE: length, alignment, joint angles, fibula, overlap and new bone."""
    subject, rules = load.case_at(case, complete=False), load.profile_at(profile)
    shown = subject.film(film)
    if shown is None or subject.course is None:
        raise Missing(
            "no operation is recorded." if shown is not None else f"there is no film {film!r}.",
            where=f"case {subject.id!r}",
            next_step="Record the operation, and name one of the films of the case.",
        )
    day: date = on.date()
    visit = next((v for v in subject.course.visits if v.seen_on == day), Visit(seen_on=day))
    places = FilmClicks(
        film=film,
        bone=Bone(bone),
        projection=shown.projection,
        across_to=across_to(shown, subject.side),
        **_points(clicks),
    )
    picture = read_picture(film_bytes(case, shown), name=film).picture
    read = read_visit_film(subject, visit, places, picture, rules)
    if write:
        others = tuple(v for v in subject.course.visits if v.seen_on != day)
        visits = tuple(sorted((*others, read.visit), key=lambda v: v.seen_on))
        write_case(case, replace(subject, course=replace(subject.course, visits=visits)))
    plain = film_reading_plain(read.film, read.reading, read.day, rules, read.findings)
    if json_:
        show.as_json({"case": subject.id, "on": day.isoformat(), **plain})
        return
    rows = [(name.replace("_", " "), _said(value)) for name, value in plain.items() if name != "findings"]
    show.table(f"{film} (standard uncertainties)", ("", ""), rows)
    show.findings(read.findings)
    show.caution()


def _points(path: Path) -> dict[str, tuple[float, float]]:
    try:
        given = json.loads(path.read_text(encoding="utf-8"))
        return {str(name): (float(x), float(y)) for name, (x, y) in given.items()}
    except (OSError, ValueError, TypeError, AttributeError):
        raise Unreadable(
            "no JSON object of points.",
            where=str(path),
            next_step='Give {"nail_thick_end": [column, row], "nail_junction": …, "nail_thin_end": …}.',
        ) from None


def _said(value: object) -> str:
    if value is None:
        return "not read"
    if isinstance(value, dict):
        return ", ".join(f"{str(k).replace('_', ' ')} {_said(v)}" for k, v in value.items())
    if isinstance(value, list):
        return "; ".join(_said(v) for v in value) or "none"
    return str(value)
