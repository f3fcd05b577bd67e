"""`limbwright export INTO`: cases, or the whole practice, as one ZIP file."""

from pathlib import Path

import click

from limbwright.cli import load, options, show


@click.command("export")
@click.argument("into", type=click.Path(path_type=Path))
@click.option(
    "--case", "case_ids", multiple=True, metavar="ID", help="Case to export; the whole practice without it."
)
@click.option(
    "--without-identity",
    is_flag=True,
    help="Take the patients' identity out: stand-ins, dates moved, no free texts, newest versions alone.",
)
@options.home
@options.database
@options.who
def command(
    *,
    into: Path,
    case_ids: tuple[str, ...],
    without_identity: bool,
    home: Path,
    database: str | None,
    who: str,
) -> None:
    """Write cases with all versions and films into the ZIP file INTO."""
    from limbwright.store.export import export_archive

    with load.store_at(home, database=database) as store, show.progress("Exporting"):
        exported = export_archive(
            store, into, who=who, case_ids=case_ids or None, without_identity=without_identity
        )
    manifest = exported.manifest
    show.console().print(f"{into}: {len(manifest.cases)} cases, {len(manifest.films)} films", markup=False)
    show.findings(exported.findings)
    show.caution()
    show.exit_for(exported.findings)
