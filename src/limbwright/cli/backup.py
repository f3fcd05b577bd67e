"""`limbwright backup INTO`: the whole practice copied into a folder and checked."""

from pathlib import Path

import click

from limbwright.cli import load, options, show


@click.command("backup")
@click.argument("into", type=click.Path(path_type=Path))
@options.home
@options.database
@options.who
@click.option("--link", is_flag=True, help="Link films instead of copying them, where one disk holds both.")
def command(*, into: Path, home: Path, database: str | None, who: str, link: bool) -> None:
    """Copy the practice into the folder INTO while it is in use; the same folder serves every time."""
    from limbwright.store.backup import backup

    with load.store_at(home, database=database) as store, show.progress("Copying and checking"):
        made = backup(store, into, who=who, link_films=link)
    show.console().print(f"{into}: {made.cases} cases, {made.films} films", markup=False)
    show.findings(made.findings)
    show.exit_for(made.findings)
