"""`limbwright import FILE`: an exported ZIP file taken into the store."""

from pathlib import Path

import click

from limbwright.cli import load, options, show


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@options.home
@options.database
@options.who
def command(*, file: Path, home: Path, database: str | None, who: str) -> None:
    """Take in the ZIP file that an export wrote: everything in it, or nothing."""
    from limbwright.store.import_ import import_archive

    with load.store_at(home, database=database, make=True) as store, show.progress("Importing"):
        imported = import_archive(store, file, who=who)
    for words, cases in (
        ("new", imported.new_cases),
        ("continued", imported.continued_cases),
        ("known already", imported.known_cases),
    ):
        for case in cases:
            show.console().print(f"{case}: {words}", markup=False)
    words = f"{imported.new_films} new films, {imported.new_documents} new versions of profile or catalogue"
    show.console().print(words, markup=False)
