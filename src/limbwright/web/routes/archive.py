"""A case with all its versions and films as one file, out and in."""

import shutil
import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, JSONResponse
from starlette.background import BackgroundTask
from starlette.datastructures import UploadFile

from limbwright.store.export import export_archive
from limbwright.store.import_ import Imported, import_archive
from limbwright.web.bench import Bench, Workbench
from limbwright.web.casework import stored_case
from limbwright.web.failure import Failure
from limbwright.web.identity import Planner, Reader

router = APIRouter(prefix="/api/cases", tags=["archive"])


@router.get(
    "/{case_id}/export.zip",
    response_class=FileResponse,
    responses={200: {"content": {"application/zip": {}}}},
)
def export(
    bench: Bench,
    who: Reader,
    case_id: str,
    deidentified: Annotated[bool, Query(description="Leave out what tells who the patient is.")] = False,
) -> Response:
    """The case with all versions and films as one ZIP file."""
    stored_case(bench, case_id)
    folder = Path(tempfile.mkdtemp(prefix="limbwright-export-"))
    target = folder / "case.zip"
    try:
        export_archive(bench.store, target, who=who.name, case_ids=[case_id], without_identity=deidentified)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return FileResponse(
        target,
        media_type="application/zip",
        filename="case.zip",
        background=BackgroundTask(shutil.rmtree, folder, ignore_errors=True),
    )


@router.post(
    "/import",
    status_code=201,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                "multipart/form-data": {
                    "schema": {
                        "type": "object",
                        "required": ["file"],
                        "properties": {"file": {"type": "string", "format": "binary"}},
                    }
                }
            },
        }
    },
)
async def import_(request: Request, bench: Bench, who: Planner) -> Response:
    """Take in what an export wrote; everything in it is checked first, whoever wrote it."""
    async with request.form(max_files=1, max_fields=2) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise Failure(
                400,
                "bad-request",
                "no file in the upload.",
                where="field 'file'",
                next_step="Send the ZIP file that an export wrote in the field 'file'.",
            )
        imported = await run_in_threadpool(_imported, bench, file, who.name)
    return JSONResponse(_plain(imported), status_code=201)


def _imported(bench: Workbench, file: UploadFile, who: str) -> Imported:
    with tempfile.TemporaryDirectory(prefix="limbwright-import-") as folder:
        path = Path(folder) / "archive.zip"
        file.file.seek(0)
        with path.open("wb") as copy:
            shutil.copyfileobj(file.file, copy, 1 << 20)
        return import_archive(bench.store, path, who=who)


def _plain(imported: Imported) -> dict[str, object]:
    return {
        "new_cases": list(imported.new_cases),
        "continued_cases": list(imported.continued_cases),
        "known_cases": list(imported.known_cases),
        "new_films": imported.new_films,
    }
