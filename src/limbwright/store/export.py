"""Cases, or the whole practice, as one ZIP file: every version, every film, a list of contents with
digests."""

import hashlib
import os
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection

from limbwright import __version__
from limbwright.case.caution import CAUTION
from limbwright.error import Missing, Refused
from limbwright.finding import Finding, ordered
from limbwright.quantity import Value
from limbwright.store.audit import Action
from limbwright.store.case_identity import case_without_identity
from limbwright.store.conflict import Version
from limbwright.store.engine import reading
from limbwright.store.film_identity import film_without_identity
from limbwright.store.films import sync_folder
from limbwright.store.history import Saved, all_versions, saved_version, version_of
from limbwright.store.manifest import (
    MANIFEST,
    ArchivedCase,
    ArchivedDocument,
    ArchivedFilm,
    ArchivedVersion,
    Manifest,
    case_entry,
    document_entry,
    film_entry,
    manifest_text,
)
from limbwright.store.packed import digest_of, document_of, tree_of
from limbwright.store.practice import Kind, documents_on
from limbwright.store.rules import remark
from limbwright.store.store import Store
from limbwright.store.trouble import Unavailable
from limbwright.store.wording import require_who

_ZIP_MOMENT = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP file can say, so that equal contents are equal files


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported(Value):
    """What was written."""

    manifest: Manifest
    """List of contents."""
    findings: tuple[Finding, ...]
    """Films that were left out, or have to be looked at before the file is passed on."""


def export_archive(
    store: Store,
    into: Path,
    *,
    who: str,
    case_ids: Iterable[str] | None = None,
    without_identity: bool = False,
) -> Exported:
    """Write cases with their films as one ZIP file.

    Parameters
    ----------
    store : Store
        Where they are.
    into : Path
        File to write; under its name there is a whole archive or none.
    who : str
        User, for the list of contents and the audit log.
    case_ids : iterable of str, optional
        Cases to write; without it the whole practice: every case, the practice profile and the hardware
        catalogue. Users and the audit log stay; a backup holds them.
    without_identity : bool
        True to take the patients' identity out: the newest version of each case alone, stand-ins for
        identifiers, dates moved by one number of days for each patient, no free texts, films cleaned by the
        DICOM basic profile.

    Raises
    ------
    Refused
        If a file of that name is there.
    Missing
        If there is no such case.
    Contradiction
        If a film's bytes are no longer the ones that were stored.
    Unavailable
        If the file cannot be written.
    """
    require_who(who)
    chosen = None if case_ids is None else tuple(dict.fromkeys(case_ids))
    with _whole_file(into) as archive:
        writer = _Writer(store, archive)
        if without_identity:
            writer.cases_without_identity(chosen)
        else:
            writer.cases(chosen)
        manifest = Manifest(
            caution=CAUTION,
            program=f"limbwright {__version__}",
            made_at=store.now(),
            made_by="" if without_identity else who,
            without_identity=without_identity,
            cases=tuple(writer.archived),
            documents=tuple(writer.documents),
            films=tuple(writer.films.values()),
            absent_films=tuple(sorted(writer.absent)),
        )
        writer.text(MANIFEST, manifest_text(manifest))
    action = Action.EXPORTED_WITHOUT_IDENTITY if without_identity else Action.EXPORTED
    for case_id in writer.case_ids:
        store.audit.note(who, action, case_id=case_id)
    return Exported(manifest=manifest, findings=ordered(tuple(writer.findings)))


class _Writer:
    """Writes entries and keeps the list of them."""

    def __init__(self, store: Store, archive: zipfile.ZipFile) -> None:
        self._store = store
        self._archive = archive
        self.case_ids: list[str] = []
        self.archived: list[ArchivedCase] = []
        self.documents: list[ArchivedDocument] = []
        self.films: dict[str, ArchivedFilm] = {}
        self.absent: set[str] = set()
        self.findings: list[Finding] = []

    def cases(self, chosen: tuple[str, ...] | None) -> None:
        """Every version of the chosen cases, or everything the practice has."""
        wanted: dict[str, str] = {}
        with reading(self._store.engine) as connection:
            for number, case_id in enumerate(self._chosen(chosen), start=1):
                versions = []
                for saved in self._versions(connection, case_id):
                    self.text(case_entry(number, saved.version.number), saved.document)
                    wanted |= dict.fromkeys(_films_named(saved.document), case_id)
                    versions.append(_archived(saved))
                self.archived.append(ArchivedCase(id=case_id, versions=tuple(versions)))
                self.case_ids.append(case_id)
        if chosen is None:
            self._practice()
        for sha256, case_id in wanted.items():
            self._film(sha256, case_id)

    def cases_without_identity(self, chosen: tuple[str, ...] | None) -> None:
        """The newest version of the chosen cases, or of all, without the patients' identity."""
        pseudonyms = self._store.pseudonyms()
        for number, case_id in enumerate(self._chosen(chosen), start=1):
            case = self._store.cases.at(case_id)
            cleaned: dict[str, str] = {}
            for film_number, film in enumerate(case.films, start=1):
                name = f"case {pseudonyms.case(case_id)}, film {film_number}"
                if film.sha256 is None or not self._store.films.has(film.sha256):
                    if film.sha256 is not None:
                        self.findings.append(
                            remark("export-film-absent", f"{name}: its picture is not here.")
                        )
                    continue
                result = film_without_identity(
                    self._store.films.get(film.sha256),
                    patient=case.patient.id,
                    pseudonyms=pseudonyms,
                    name=name,
                )
                self.findings += result.findings
                if result.content is not None:
                    cleaned[film.sha256] = self._film_bytes(result.content)
            without = case_without_identity(case, pseudonyms=pseudonyms, films=cleaned)
            version = version_of(1, saved_at=self._store.now(), who="export", why="without identity")
            saved = Saved(case_id=without.id, document=document_of(without), version=version)
            self.text(case_entry(number, 1), saved.document)
            self.archived.append(ArchivedCase(id=without.id, versions=(_archived(saved),)))
            self.case_ids.append(case_id)

    def text(self, name: str, text: str) -> None:
        """Write a text entry, compressed."""
        info = _entry(name)
        info.compress_type = zipfile.ZIP_DEFLATED
        self._archive.writestr(info, text.encode())

    def _chosen(self, chosen: tuple[str, ...] | None) -> Iterator[str]:
        return self._store.cases.ids() if chosen is None else iter(chosen)

    def _versions(self, connection: Connection, case_id: str) -> Iterator[Saved]:
        numbers = [version.number for version in all_versions(connection, case_id)]
        if not numbers:
            raise Missing(
                "there is no such case.",
                where=f"case {case_id[:64]!r}",
                next_step="Choose one from the list.",
            )
        for number in numbers:
            saved = saved_version(connection, case_id, number)
            if saved is not None:
                yield saved

    def _practice(self) -> None:
        for kind in Kind:
            with reading(self._store.engine) as connection:
                found = documents_on(connection, kind)
            for one in found:
                self.text(document_entry(kind, one.version.number), one.text)
            if found:
                versions = tuple(_archived_version(one.version, digest_of(one.text)) for one in found)
                self.documents.append(ArchivedDocument(kind=kind, versions=versions))

    def _film(self, sha256: str, case_id: str) -> None:
        films = self._store.films
        if not films.has(sha256):
            self.absent.add(sha256)
            words = f"case {case_id!r}, film {sha256[:12]}…: its picture is not here."
            self.findings.append(remark("export-film-absent", words))
            return
        if not films.is_whole(sha256):
            raise films.damaged(sha256)
        size_bytes = 0
        with self._archive.open(_entry(film_entry(sha256)), "w", force_zip64=True) as entry:
            for chunk in films.chunks(sha256):
                entry.write(chunk)
                size_bytes += len(chunk)
        self.films[sha256] = ArchivedFilm(sha256=sha256, size_bytes=size_bytes)

    def _film_bytes(self, content: bytes) -> str:
        sha256 = hashlib.sha256(content).hexdigest()
        if sha256 not in self.films:
            self._archive.writestr(_entry(film_entry(sha256)), content)
            self.films[sha256] = ArchivedFilm(sha256=sha256, size_bytes=len(content))
        return sha256


def _entry(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, date_time=_ZIP_MOMENT)
    info.compress_type = zipfile.ZIP_STORED  # films are packed already, or packed badly
    info.external_attr = 0o600 << 16
    return info


def _archived(saved: Saved) -> ArchivedVersion:
    return _archived_version(
        saved.version, digest_of(saved.document), schema_version=saved.schema_version, beside=saved.beside
    )


def _archived_version(
    version: Version, sha256: str, *, schema_version: int = 0, beside: str = "{}"
) -> ArchivedVersion:
    return ArchivedVersion(
        number=version.number,
        sha256=sha256,
        schema_version=schema_version,
        saved_at=version.saved_at,
        who=version.who,
        why=version.why,
        parts=version.parts,
        restored_from=version.restored_from,
        beside=beside,
    )


def _films_named(document: str) -> Iterator[str]:
    """Digests of the films a document names, whatever version its shape has."""
    for film in tree_of(document).get("films", []):
        sha256 = film.get("sha256")
        if isinstance(sha256, str):
            yield sha256


@contextmanager
def _whole_file(into: Path) -> Iterator[zipfile.ZipFile]:
    """A ZIP file that takes its name only when it is whole and on disk."""
    if into.exists():
        raise Refused(
            "a file of that name is there already; it was left as it is.",
            where=str(into),
            next_step="Choose another name.",
        )
    part = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{into.name}.", suffix=".part", dir=into.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as file:
            with zipfile.ZipFile(file, "w", allowZip64=True) as archive:
                yield archive
            file.flush()
            os.fsync(file.fileno())
        part.replace(into)
        sync_folder(into.parent)
    except OSError as error:
        raise Unavailable(
            f"the file cannot be written ({error.strerror or error}); nothing was exported.",
            where=str(into),
            next_step="Check the folder, its free space, and that you may write to it.",
        ) from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)
