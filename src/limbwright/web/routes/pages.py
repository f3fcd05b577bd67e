"""The pages of the workbench."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from limbwright.web.bench import Bench
from limbwright.web.casework import alterations_in, case_plain, headers_of, stored_case, version_plain
from limbwright.web.identity import Reader, Signer
from limbwright.web.page import Page
from limbwright.web.practice import profile_plain
from limbwright.web.routes.audit import entries_plain
from limbwright.web.routes.cases import found_cases
from limbwright.web.routes.operation import operation_plain
from limbwright.web.routes.practice import catalogue_plain
from limbwright.web.wire import Search
from limbwright.web.work.answer import plan_answer
from limbwright.web.work.state import planned_state

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/")
def home() -> Response:
    """The list of cases is where one starts."""
    return RedirectResponse("/cases", status_code=303)


@router.get("/login")
def login(
    request: Request, bench: Bench, next_: Annotated[str, Query(alias="next", max_length=300)] = "/cases"
) -> Response:
    """Name and password."""
    page = Page(page="login", title="Log in", data={"next": inner_path(next_)})
    return bench.pages.shown(request, page, None)


def inner_path(path: str) -> str:
    """Where to go after the login: a path of this server, nothing else."""
    inside = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if inside else "/cases"


@router.get("/cases")
def cases(request: Request, bench: Bench, who: Reader) -> Response:
    """List of cases."""
    limits = bench.settings.limits
    data = {
        "search": found_cases(bench, Search()),
        "limits": {"files": limits.upload_files, "bytes": limits.upload_file_bytes},
    }
    return bench.pages.shown(request, Page(page="cases", title="Cases", data=data), who)


@router.get("/cases/{case_id}/table")
def table(request: Request, bench: Bench, who: Reader, case_id: str) -> Response:
    """Light table."""
    data = {"document": case_plain(bench, case_id, None, who.name)}
    page = Page(page="table", title=f"Light table, {case_id}", data=data, case_id=case_id)
    return bench.pages.shown(request, page, who)


@router.get("/cases/{case_id}/operation")
def operation(request: Request, bench: Bench, who: Reader, case_id: str) -> Response:
    """Operation: checklist and what was really done."""
    data = {
        "document": case_plain(bench, case_id, None, who.name),
        "record": operation_plain(bench, case_id),
    }
    page = Page(page="operation", title=f"Operation, {case_id}", data=data, case_id=case_id)
    return bench.pages.shown(request, page, who)


@router.get("/cases/{case_id}/sheet")
def sheet(request: Request, bench: Bench, who: Reader, case_id: str) -> Response:
    """Theatre sheet."""
    document = case_plain(bench, case_id, None, who.name)
    case, version = stored_case(bench, case_id)
    alterations = alterations_in(bench.store.cases.beside(case_id, version))
    state = planned_state(case, alterations, bench.practice.both(), headers_of(bench, case))
    answer = plan_answer(state, "sheet")
    kept: dict[str, Any] = {
        key: answer[key] for key in ("plan", "plan_absent", "outlook", "drawings", "course", "findings")
    }
    page = Page(
        page="sheet", title=f"Theatre sheet, {case_id}", data={"document": document, **kept}, case_id=case_id
    )
    return bench.pages.shown(request, page, who)


@router.get("/cases/{case_id}/history")
def history(request: Request, bench: Bench, who: Reader, case_id: str) -> Response:
    """Versions of a case."""
    _, version = stored_case(bench, case_id)
    lines = [version_plain(v) for v in reversed(bench.store.cases.versions(case_id))]
    page = Page(
        page="history",
        title=f"History, {case_id}",
        data={"versions": lines, "current": version},
        case_id=case_id,
    )
    return bench.pages.shown(request, page, who)


@router.get("/profile")
def profile(request: Request, bench: Bench, who: Reader) -> Response:
    """Practice profile."""
    data = {"profile": profile_plain(*bench.practice.profile())}
    return bench.pages.shown(request, Page(page="profile", title="Practice profile", data=data), who)


@router.get("/catalogue")
def catalogue(request: Request, bench: Bench, who: Reader) -> Response:
    """Hardware catalogue."""
    data = {"catalogue": catalogue_plain(bench)}
    return bench.pages.shown(request, Page(page="catalogue", title="Hardware catalogue", data=data), who)


@router.get("/keys")
def keys(request: Request, bench: Bench, who: Reader) -> Response:
    """Keys and gestures."""
    return bench.pages.shown(request, Page(page="keys", title="Keys"), who)


@router.get("/audit")
def audit(request: Request, bench: Bench, who: Signer) -> Response:
    """Who read and wrote what."""
    data = entries_plain(bench, after=None, limit=200)
    return bench.pages.shown(request, Page(page="audit", title="Audit log", data=data), who)
