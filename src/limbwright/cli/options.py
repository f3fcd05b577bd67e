"""Arguments and options that several commands share, so that they read alike everywhere."""

from datetime import datetime
from getpass import getuser
from pathlib import Path

import click

_PATH = click.Path(path_type=Path)

case = click.argument("case", type=_PATH)
profile = click.option(
    "--profile", type=_PATH, metavar="TOML", help="Practice profile; our defaults without it."
)
catalogue = click.option(
    "--catalogue", type=_PATH, metavar="TOML", help="Hardware catalogue; the invented one without it."
)
as_json = click.option("--json", "json_", is_flag=True, help="Print JSON instead of text.")
candidates = click.option(
    "--candidates/--no-candidates",
    default=True,
    show_default=True,
    help="Search other plans worth comparing, at most six.",
)
hold = click.option(
    "--hold",
    multiple=True,
    type=click.Choice(["level", "nail", "length", "path", "screws"]),
    help="Keep this of the plan while the rest is searched; may be given several times.",
)
operated_on = click.option(
    "--operation-date",
    "operated_on",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day of the operation, day 0 of the schedule; today without it.",
    callback=lambda _ctx, _param, value: None if value is None else _day(value),
)
home = click.option(
    "--home",
    type=_PATH,
    default=Path.home() / "Limbwright",
    show_default="~/Limbwright",
    help="Folder of the store: database and films.",
)
database = click.option("--database", metavar="URL", help="PostgreSQL database in place of the SQLite file.")
who = click.option(
    "--who", default=getuser, show_default="user of this machine", help="Name for the history and audit log."
)


def _day(value: datetime) -> object:
    return value.date()
