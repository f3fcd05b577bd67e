"""From a stored or sent case document to a working state, and back to what pages show of a case."""

import json
import secrets
from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter, ValidationError

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.patient import Patient
from limbwright.error import LimbwrightError, Missing, Unreadable
from limbwright.film.film import Film, ScaleEvidence
from limbwright.film.leg import Stated
from limbwright.finding import Finding
from limbwright.store.audit import Action
from limbwright.store.conflict import Conflict, Version
from limbwright.store.difference import Change as Difference
from limbwright.web.bench import Workbench
from limbwright.web.failure import Failure, not_found
from limbwright.web.wire import NewCase, NewFilm
from limbwright.web.work.change import Alteration
from limbwright.web.work.state import Headers

ALTERATIONS, ACCEPTANCE = "alterations", "acceptance"
_ALTERATION: TypeAdapter[Alteration] = TypeAdapter(Alteration)


def case_of(document: Mapping[str, Any]) -> Case:
    """A case document as it was sent, complete or still being marked. Raises UnreadableCase."""
    return case_from_json(json.dumps(document), complete=False, where="case document")


def document_of(case: Case) -> Any:
    """A case as the document that is sent."""
    return json.loads(case_to_json(case))


def headers_of(bench: Workbench, case: Case) -> Headers:
    """What the headers of the films at hand say about side and projection, and what was noticed."""
    stated: dict[str, Stated] = {}
    findings: list[Finding] = []
    for film in case.films:
        if film.sha256 is None or not bench.store.films.has(film.sha256):
            continue
        try:
            read = bench.lightbox.facts(film.sha256)
        except LimbwrightError:
            continue
        facts = read.facts
        stated[film.name] = Stated(
            laterality=None if facts.laterality is None else facts.laterality.side(),
            projection=facts.projection,
        )
        findings.extend(read.findings)
    return Headers(stated=stated, findings=tuple(findings))


def stored_case(bench: Workbench, case_id: str, version: int | None = None) -> tuple[Case, int]:
    """A case of the store and its version. Raises Failure 404."""
    try:
        if version is None:
            return bench.store.cases.current(case_id)
        return bench.store.cases.at(case_id, version), version
    except Missing as error:
        raise not_found(error.found, error.where, error.next_step) from None


def version_of(bench: Workbench, case_id: str, number: int) -> Version:
    """One line of a case's history."""
    return next(v for v in bench.store.cases.versions(case_id) if v.number == number)


def alterations_in(beside: Mapping[str, Any]) -> tuple[Alteration, ...]:
    """The surgeon's own lines and screws kept beside a case; ones of an older shape are left out."""
    found = []
    for item in beside.get(ALTERATIONS, []):
        try:
            found.append(_ALTERATION.validate_python(item))
        except ValidationError:
            continue
    return tuple(found)


def case_plain(bench: Workbench, case_id: str, number: int | None, who: str) -> dict[str, Any]:
    """A case with its version and what is kept beside it; the read is noted."""
    case, version = stored_case(bench, case_id, number)
    beside = bench.store.cases.beside(case_id, version)
    bench.store.audit.note(who, Action.CASE_READ, case_id=case_id, subject=f"version {version}")
    line = version_of(bench, case_id, version)
    document = document_of(case)
    return {
        "id": case.id,
        **version_plain(line),
        "case": document,
        "alterations": [a.model_dump(mode="json") for a in alterations_in(beside)],
        "operation": document.get("operation"),
        "acceptance": beside.get(ACCEPTANCE),
    }


def version_plain(version: Version) -> dict[str, Any]:
    """One line of a history."""
    return {
        "version": version.number,
        "saved_at": version.saved_at.isoformat(),
        "saved_by": version.who,
        "why": version.why,
        "parts": list(version.parts),
        "restored_from": version.restored_from,
    }


def difference_plain(change: Difference) -> dict[str, Any]:
    """One value that differs between two versions."""
    return {
        "path": change.path,
        "words": _words(change.path),
        "kind": change.kind.value,
        "before": change.before,
        "after": change.after,
    }


def _words(path: str) -> str:
    return path.removeprefix("$.").replace("_", " ").replace(".", ", ")


def save(
    bench: Workbench,
    case: Case,
    *,
    base: int,
    who: str,
    why: str,
    beside: Mapping[str, Any] | None = None,
) -> int:
    """Save a case on top of a version. Raises Failure 409 with what differs, 404."""
    try:
        return bench.store.cases.save(
            case, based_on=base, who=who, why=why or "no reason given", beside=beside
        )
    except Conflict as conflict:
        raise conflict_failure(conflict) from None
    except Missing as error:
        raise not_found(error.found, error.where, error.next_step) from None


def conflict_failure(conflict: Conflict) -> Failure:
    """A conflict as an answer: their changes and mine, value by value, and both together where they fit."""
    theirs = {change.path: change for change in conflict.theirs}
    mine = {change.path: change for change in conflict.mine}
    both = {change.path for change in conflict.both}
    differs = []
    for path in dict.fromkeys((*theirs, *mine)):
        there, here = theirs.get(path), mine.get(path)
        known = there or here
        base = known.before if known is not None else None
        differs.append(
            {
                "path": path,
                "words": _words(path),
                "base": base,
                "theirs": there.after if there is not None else base,
                "yours": here.after if here is not None else base,
                "both": path in both,
            }
        )
    return Failure(
        409,
        "conflict",
        conflict.found,
        where=conflict.where,
        next_step=conflict.next_step,
        extra={
            "differs": differs,
            "version": conflict.current.number,
            "base_version": conflict.based_on,
            "saved_by": conflict.current.who,
            "saved_at": conflict.current.saved_at.isoformat(),
            "combined": None if conflict.combined is None else document_of(conflict.combined),
        },
    )


def new_case(bench: Workbench, asked: NewCase) -> Case:
    """A case from films of the store. Raises LimbwrightError."""
    return Case(
        id=asked.id or f"case-{secrets.token_hex(4)}",
        invented=asked.invented,
        side=asked.side,
        diagnosis=asked.diagnosis,
        patient=Patient(**asked.patient.model_dump()),
        films=tuple(film_of(bench, film) for film in asked.films),
    )


def film_of(bench: Workbench, asked: NewFilm) -> Film:
    """A film of the store as a case holds it; size and scale from its header. Raises LimbwrightError."""
    try:
        facts = bench.lightbox.facts(asked.sha256).facts
    except Unreadable as error:
        raise Unreadable(error.found, where=f"film '{asked.name}'", next_step=error.next_step) from None
    return Film(
        name=asked.name,
        sha256=asked.sha256,
        projection=asked.projection,
        taken_on=asked.taken_on or facts.acquisition_date or facts.study_date,
        width_px=facts.columns,
        height_px=facts.rows,
        standing=asked.standing,
        right_side_at=asked.right_side_at,
        anterior_at=asked.anterior_at,
        scale=ScaleEvidence(header=facts.scale),
    )
