"""Reading what the commands are given: case, films beside it, practice profile, hardware catalogue."""

from pathlib import Path
from typing import TYPE_CHECKING

from limbwright.case.case import Case
from limbwright.error import Missing, Unreadable
from limbwright.film.leg import Stated
from limbwright.film.reading.facts import HeaderFacts
from limbwright.film.reading.read import read_facts
from limbwright.finding import Finding
from limbwright.implant.catalogue import Catalogue
from limbwright.interop.case_file import film_bytes, read_case
from limbwright.practice.profile import Profile

if TYPE_CHECKING:
    from limbwright.store.store import Store

# A profile or catalogue is a page or two of text.
LARGEST_TEXT_BYTES = 2_000_000


def case_at(path: Path, *, complete: bool = True) -> Case:
    """The case file at a path."""
    return read_case(path, complete=complete)


def headers_of(case: Case, path: Path) -> tuple[dict[str, Stated], tuple[Finding, ...]]:
    """What the headers of the films beside a case say about side and projection, and what was noticed."""
    stated: dict[str, Stated] = {}
    findings: list[Finding] = []
    for film in case.films:
        if film.file is None:
            continue
        read = read_facts(film_bytes(path, film), name=film.name)
        stated[film.name] = _stated(read.facts)
        findings.extend(read.findings)
    return stated, tuple(findings)


def profile_at(path: Path | None) -> Profile:
    """The practice profile at a path; our defaults without one."""
    from limbwright.practice.document import profile_from_toml

    return Profile() if path is None else profile_from_toml(_text(path, what="practice profile"))


def catalogue_at(path: Path | None) -> Catalogue:
    """The hardware catalogue at a path; the shipped, invented one without one."""
    from limbwright.implant.reading import catalogue_from_toml
    from limbwright.implant.shipped import shipped_catalogue

    return shipped_catalogue() if path is None else catalogue_from_toml(_text(path, what="catalogue"))


def store_at(home: Path, *, database: str | None = None, make: bool = False) -> "Store":
    """The practice's store in a folder; refused when there is none and none is to be made."""
    from limbwright.store.engine import SQLITE_FILE
    from limbwright.store.store import open_store

    if not make and database is None and not (home / SQLITE_FILE).is_file():
        raise Missing(
            f"the folder holds no {SQLITE_FILE}.",
            where=str(home),
            next_step="Name the folder of the practice with --home.",
        )
    return open_store(home, database=database)


def _stated(facts: HeaderFacts) -> Stated:
    return Stated(
        laterality=None if facts.laterality is None else facts.laterality.side(), projection=facts.projection
    )


def _text(path: Path, *, what: str) -> str:
    try:
        if path.stat().st_size > LARGEST_TEXT_BYTES:
            raise Unreadable(
                f"{path.stat().st_size:,} bytes, expected at most {LARGEST_TEXT_BYTES:,}.",
                where=f"{what}, {path}",
                next_step="Check that this is the right file.",
            )
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise Unreadable(
            f"the file cannot be read ({error}).",
            where=f"{what}, {path}",
            next_step="Check its name, that you may read it, and that it is UTF-8 text.",
        ) from error
