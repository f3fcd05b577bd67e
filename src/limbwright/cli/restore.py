"""`limbwright restore FROM`: a practice made out of a backup, in a folder of its own."""

from pathlib import Path

import click

from limbwright.cli import options, show


@click.command("restore")
@click.argument("source", metavar="FROM", type=click.Path(path_type=Path))
@options.home
@options.database
def command(*, source: Path, home: Path, database: str | None) -> None:
    """Make a practice out of the backup in FROM; nothing is ever restored over a practice that is there."""
    from limbwright.store.backup import restore_backup

    with show.progress("Copying and checking"):
        restored = restore_backup(source, home, database=database)
    words = f"{home}: {restored.cases} cases, as of {restored.made_at:%Y-%m-%d %H:%M} UTC"
    show.console().print(words, markup=False)
    show.findings(restored.findings)
    show.exit_for(restored.findings)
