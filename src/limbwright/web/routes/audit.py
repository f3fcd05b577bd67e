"""Who read and wrote what."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from fastapi.responses import JSONResponse

from limbwright.store.audit import Entry
from limbwright.web.bench import Bench, Workbench
from limbwright.web.identity import Signer

router = APIRouter(prefix="/api/audit", tags=["audit"])
_LARGEST = 2**62


@router.get("")
def audit(
    *,
    bench: Bench,
    who: Signer,
    after: Annotated[int | None, Query(ge=0, le=_LARGEST, description="Forwards from this number.")] = None,
    before: Annotated[int | None, Query(ge=0, le=_LARGEST, description="Backwards from it.")] = None,
    newest_first: Annotated[bool, Query(description="Backwards from the newest entry.")] = False,
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
) -> Response:
    """A stretch of the audit log: after a number, oldest first; or backwards, newest first.

    Without any of them the newest entries, oldest first. Backwards, `before` of the answer asks for the next
    stretch; it is null at the beginning of the log.
    """
    if before is not None or newest_first:
        entries = bench.store.audit.newest(before=before, most=limit)
        more = len(entries) == limit and entries[-1].number > 1
        return JSONResponse(
            {"entries": [_entry(e) for e in entries], "before": entries[-1].number if more else None}
        )
    return JSONResponse(entries_plain(bench, after=after, limit=limit))


def entries_plain(bench: Workbench, *, after: int | None, limit: int) -> dict[str, Any]:
    """A stretch of the audit log, oldest first: after a number, or the newest ones."""
    if after is not None:
        entries = bench.store.audit.entries(after=after, most=limit)
    else:
        entries = tuple(reversed(bench.store.audit.newest(most=limit)))
    return {"entries": [_entry(entry) for entry in entries]}


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "number": entry.number,
        "at": entry.at.isoformat(),
        "who": entry.who,
        "what": entry.action.value,
        "case": entry.case_id,
        "subject": entry.subject,
    }
