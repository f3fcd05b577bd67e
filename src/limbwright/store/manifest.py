"""What stands in an archive: one JSON document that lists every case, version, document and film with
digests.

The manifest names no paths. Where an entry lies follows from its number or digest, so that an archive cannot
ask for a file anywhere else.
"""

import json
import re
from dataclasses import dataclass, fields, is_dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from limbwright.error import Unreadable
from limbwright.quantity import Value
from limbwright.store.practice import Kind

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FORMAT = "limbwright archive"
FORMAT_VERSION = 1
MANIFEST = "manifest.json"
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedVersion(Value):
    """One version of a case or of one of the practice's documents."""

    number: int
    """1 for the first, rising by one."""
    sha256: str
    """Digest of the document."""
    schema_version: int = 0
    """Version of a case document's shape; 0 for the practice's own documents."""
    saved_at: datetime
    """When it was saved."""
    who: str
    """Who saved it."""
    why: str
    """Why."""
    parts: tuple[str, ...] = ()
    """Top keys that changed."""
    restored_from: int | None = None
    """Version that was brought back."""
    beside: str = "{}"
    """JSON of what goes with the version and has no place in the document."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedCase(Value):
    """A case with its versions."""

    id: str
    """Identifier of the case."""
    versions: tuple[ArchivedVersion, ...]
    """Every version, oldest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedDocument(Value):
    """One of the practice's own documents with its versions."""

    kind: Kind
    """Which document."""
    versions: tuple[ArchivedVersion, ...]
    """Every version, oldest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchivedFilm(Value):
    """A film file."""

    sha256: str
    """Digest of its bytes."""
    size_bytes: int
    """Length [bytes]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest(Value):
    """What stands in an archive."""

    format: str = FORMAT
    """Tells an archive from any other ZIP file."""
    format_version: int = FORMAT_VERSION
    """Version of the archive's layout."""
    caution: str
    """The caution that goes with everything that could steer treatment."""
    program: str
    """Program and version that wrote it."""
    made_at: datetime
    """When it was written."""
    made_by: str
    """Who wrote it."""
    without_identity: bool
    """True when the patients' identity was taken out."""
    cases: tuple[ArchivedCase, ...]
    """Cases, in the order of their folders."""
    documents: tuple[ArchivedDocument, ...] = ()
    """The practice's own documents."""
    films: tuple[ArchivedFilm, ...] = ()
    """Film files."""
    absent_films: tuple[str, ...] = ()
    """Digests of films that cases name and the store did not have."""


def case_entry(case_number: int, version: int) -> str:
    """Name of the entry of a version of the n-th case, counted from 1."""
    return f"cases/{case_number:06d}/{version:06d}.json"


def document_entry(kind: Kind, version: int) -> str:
    """Name of the entry of a version of one of the practice's documents."""
    return f"practice/{kind.value.replace(' ', '-')}/{version:06d}.toml"


def film_entry(sha256: str) -> str:
    """Name of the entry of a film."""
    return f"films/{sha256}.dcm"


def entries_of(manifest: Manifest) -> dict[str, str]:
    """Every entry that the manifest asks for, with its digest."""
    found = {
        case_entry(number, version.number): version.sha256
        for number, case in enumerate(manifest.cases, start=1)
        for version in case.versions
    }
    for document in manifest.documents:
        found |= {document_entry(document.kind, v.number): v.sha256 for v in document.versions}
    return found | {film_entry(film.sha256): film.sha256 for film in manifest.films}


@cache
def _manifest_type() -> "TypeAdapter[Manifest]":
    from pydantic import TypeAdapter

    return TypeAdapter(Manifest)


def manifest_text(manifest: Manifest) -> str:
    """The manifest as JSON."""
    return json.dumps(_plain(manifest), indent=1, ensure_ascii=False) + "\n"


def manifest_from(data: bytes, *, where: str) -> Manifest:
    """Read a manifest.

    Raises
    ------
    Unreadable
        If it is none, was written by a newer program, or contradicts itself.
    """
    from pydantic import ValidationError

    try:
        version = json.loads(data)["format_version"]
    except (ValueError, TypeError, KeyError, RecursionError):
        version = None
    if isinstance(version, int) and version > FORMAT_VERSION:
        raise Unreadable(
            f"an archive of version {version}; this program reads versions up to {FORMAT_VERSION}.",
            where=where,
            next_step="Update this program; nothing was imported.",
        )
    try:
        manifest = _manifest_type().validate_json(data, strict=True)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        raise _no_manifest(f"{place}: {first['msg']}", where) from None
    if manifest.format != FORMAT:
        raise _no_manifest("it is of another format", where)
    for problem in _contradictions(manifest):
        raise _no_manifest(problem, where)
    return manifest


def _contradictions(manifest: Manifest) -> list[str]:
    found = []
    if len({case.id for case in manifest.cases}) < len(manifest.cases):
        found.append("a case stands twice")
    if len({document.kind for document in manifest.documents}) < len(manifest.documents):
        found.append("a document of the practice stands twice")
    if len({film.sha256 for film in manifest.films}) < len(manifest.films):
        found.append("a film stands twice")
    histories = [case.versions for case in manifest.cases] + [one.versions for one in manifest.documents]
    for versions in histories:
        if [version.number for version in versions] != list(range(1, len(versions) + 1)):
            found.append("versions are not numbered from 1 without a gap")
        if not versions:
            found.append("a case or document without a version")
        if any(version.saved_at.tzinfo is None for version in versions):
            found.append("a version was saved at a moment without a time zone")
    if not all(_DIGEST.fullmatch(digest) for digest in entries_of(manifest).values()):
        found.append("a digest is no SHA-256")
    return found


def _no_manifest(reason: str, where: str) -> Unreadable:
    return Unreadable(
        f"the list of its contents cannot be read ({reason}).",
        where=where,
        next_step="Choose an archive that this program exported; nothing was imported.",
    )


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple):
        return [_plain(member) for member in value]
    return value.isoformat() if isinstance(value, datetime) else value
