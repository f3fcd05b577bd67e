"""Who read and wrote what."""

from collections import deque
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from fastapi.responses import JSONResponse

from limbwright.store.audit import Entry
from limbwright.web.bench import Bench, Workbench
from limbwright.web.identity import Signer

router = APIRouter(prefix="/api/audit", tags=["audit"])


@router.get("")
def audit(
    bench: Bench,
    who: Signer,
    after: Annotated[int | None, Query(ge=0)] = None,
    limit: Annotated[int, Query(ge=1, le=1000)] = 200,
) -> Response:
    """Entries after a number, oldest first; without a number the newest ones."""
    return JSONResponse(entries_plain(bench, after=after, limit=limit))


def entries_plain(bench: Workbench, *, after: int | None, limit: int) -> dict[str, Any]:
    """A stretch of the audit log."""
    if after is not None:
        entries = bench.store.audit.entries(after=after, most=limit)
    else:
        entries = tuple(deque(bench.store.audit.all(), maxlen=limit))
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
