"""Films on their way in: checked by content, kept under their digest, answered with a proposal."""

import threading
from collections.abc import Iterator
from typing import Any, BinaryIO

from starlette.datastructures import UploadFile

from limbwright.error import LimbwrightError, OutOfRange
from limbwright.film.reading import HeaderFacts, MarkedSide, read_facts
from limbwright.interop.plain import finding_plain
from limbwright.limb.anatomy import Projection
from limbwright.store.audit import Action
from limbwright.web.bench import Workbench
from limbwright.web.failure import refused

CHUNK_BYTES = 1 << 20
LONGEST_FILE_NAME = 120
# One film at a time is held in memory while its header is read, whoever uploads.
_ONE_AT_A_TIME = threading.Lock()
_SEXES = {"F": "female", "M": "male"}


def taken_films(bench: Workbench, files: list[UploadFile], who: str) -> dict[str, Any]:
    """Take in every file that is a film; name the others with the reason."""
    taken, turned_away = [], []
    for file in files:
        name = shown_name(file.filename)
        try:
            taken.append(_taken(bench, file.file, name, who))
        except LimbwrightError as error:
            turned_away.append({"file_name": name, "error": refused(error).plain()})
    return {"films": taken, "refused": turned_away}


def shown_name(file_name: str | None) -> str:
    """The last part of a file name, printable and short; it is shown and never used as a path."""
    last = (file_name or "film").replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(c for c in last if c.isprintable())[:LONGEST_FILE_NAME] or "film"


def _taken(bench: Workbench, file: BinaryIO, name: str, who: str) -> dict[str, Any]:
    most = bench.settings.limits.upload_file_bytes
    with _ONE_AT_A_TIME:
        file.seek(0)
        content = file.read(most + 1)
        if len(content) > most:
            raise OutOfRange(
                f"the file is larger than {most:,} bytes.",
                where=name,
                next_step="Export the single film, compressed without loss.",
            )
        read = read_facts(content, name=name)
        stored = bench.store.films.put(_chunks(content), most_bytes=most)
    bench.store.audit.note(who, Action.FILM_STORED, subject=stored.sha256)
    return {
        "file_name": name,
        "sha256": stored.sha256,
        "duplicate": not stored.is_new,
        "proposal": proposal_plain(read.facts, name),
        "findings": [finding_plain(f) for f in read.findings],
    }


def _chunks(content: bytes) -> Iterator[bytes]:
    for start in range(0, len(content), CHUNK_BYTES):
        yield content[start : start + CHUNK_BYTES]


def proposal_plain(facts: HeaderFacts, file_name: str) -> dict[str, Any]:
    """What the header proposes for the film's place in a case; None where it says nothing."""
    side = facts.laterality.value if facts.laterality not in (None, MarkedSide.UNPAIRED) else None
    taken = facts.acquisition_date or facts.study_date
    return {
        "name": _film_name(facts, file_name),
        "projection": facts.projection.value if facts.projection else None,
        "side": side,
        "taken_on": taken.isoformat() if taken else None,
        "right_side_at": facts.right_side_at.value if facts.right_side_at else None,
        "anterior_at": facts.anterior_at.value if facts.anterior_at else None,
        "kind": facts.kind.value,
        "width_px": facts.columns,
        "height_px": facts.rows,
        "patient_id": facts.patient_id,
        "patient_sex": _SEXES.get(facts.patient_sex or ""),
        "patient_birth_date": facts.patient_birth_date.isoformat() if facts.patient_birth_date else None,
        "body_part": facts.body_part,
        "burned_in_annotation": facts.burned_in_annotation,
    }


def _film_name(facts: HeaderFacts, file_name: str) -> str:
    if facts.projection is None:
        return file_name.rsplit(".", 1)[0][:80] or "film"
    one_side = facts.laterality.side() if facts.laterality else None
    if facts.projection is Projection.SAGITTAL and one_side is not None:
        return f"sagittal {one_side}"
    return facts.projection.value
