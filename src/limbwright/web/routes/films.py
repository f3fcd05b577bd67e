"""Films: uploads, what a header says, and tiles."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse
from starlette.datastructures import UploadFile

from limbwright.error import OutOfRange
from limbwright.film.film import ScaleEvidence
from limbwright.film.reading import HeaderFacts, ReadFacts, Window, WindowShape
from limbwright.film.scale import scale_of
from limbwright.interop.plain import finding_plain
from limbwright.store.audit import Action
from limbwright.web.bench import Bench, Workbench
from limbwright.web.failure import Failure
from limbwright.web.film.lightbox import TileKey
from limbwright.web.film.pyramid import TILE_PX, Pyramid
from limbwright.web.identity import Planner, Reader
from limbwright.web.upload import taken_films
from limbwright.web.work.drawn import scale_plain

router = APIRouter(tags=["films"])
Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of the film's bytes.")]
_FOREVER = "private, max-age=31536000, immutable"


@router.post(
    "/api/films",
    status_code=201,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                "multipart/form-data": {
                    "schema": {
                        "type": "object",
                        "required": ["files"],
                        "properties": {
                            "files": {"type": "array", "items": {"type": "string", "format": "binary"}}
                        },
                    }
                }
            },
        }
    },
)
async def upload(request: Request, bench: Bench, who: Planner) -> Response:
    """Take in films: several at once, checked by content, each answered with a proposal or a refusal."""
    limits = bench.settings.limits
    async with request.form(max_files=limits.upload_files, max_fields=10) as form:
        files = [part for part in form.getlist("files") if isinstance(part, UploadFile)]
        if not files:
            raise Failure(
                400,
                "bad-request",
                "no file in the upload.",
                where="field 'files'",
                next_step="Send DICOM, PNG, JPEG or TIFF files in the field 'files'.",
            )
        answer = await run_in_threadpool(taken_films, bench, files, who.name)
    return JSONResponse(answer, status_code=201 if answer["films"] else 422)


@router.get("/api/films/{sha256}")
def film(bench: Bench, who: Reader, sha256: Sha256) -> Response:
    """Size, tiles, windows and header facts of a film."""
    require_film(bench, sha256)
    answer = film_plain(bench, sha256)
    bench.store.audit.note(who.name, Action.FILM_READ, subject=sha256)
    return JSONResponse(answer)


@router.get(
    "/films/{sha256}/tiles/{level}/{x}_{y}.jpg",
    response_class=Response,
    responses={200: {"content": {"image/jpeg": {}}}},
)
def tile(
    *,
    request: Request,
    bench: Bench,
    who: Reader,
    sha256: Sha256,
    level: Annotated[int, Path(ge=0, le=32)],
    x: Annotated[int, Path(ge=0, le=100_000)],
    y: Annotated[int, Path(ge=0, le=100_000)],
    c: Annotated[float | None, Query(allow_inf_nan=False, ge=-1e6, le=1e6)] = None,
    w: Annotated[float | None, Query(allow_inf_nan=False, gt=0, le=1e6)] = None,
    s: WindowShape = WindowShape.LINEAR,
) -> Response:
    """One tile at a window: `c` its centre and `w` its width in picture values."""
    if (c is None) != (w is None):
        raise OutOfRange(
            "only one of c and w is given, expected both or neither.",
            where="window",
            next_step="Give the centre and the width of the window.",
        )
    require_film(bench, sha256)
    window = None if c is None or w is None else Window(centre=c, width=w, shape=s)
    etag = f'"{sha256[:16]}-{level}-{x}-{y}-{c}-{w}-{s}"'
    headers = {"Cache-Control": _FOREVER, "ETag": etag}
    if request.headers.get("if-none-match") == etag:
        return Response(status_code=304, headers=headers)
    try:
        jpeg = bench.lightbox.tile(TileKey(sha256, level, x, y, window))
    except OutOfRange as error:
        raise Failure(404, "not-found", error.found, where=error.where, next_step=error.next_step) from None
    return Response(jpeg, media_type="image/jpeg", headers=headers)


def require_film(bench: Workbench, sha256: str) -> None:
    """Refuse a film that is not in the store. Raises Failure 404."""
    if not bench.store.films.has(sha256):
        raise Failure(
            404,
            "not-found",
            "there is no such film.",
            where=f"film {sha256[:12]}…",
            next_step="Upload it again.",
        )


def film_plain(bench: Workbench, sha256: str) -> dict[str, Any]:
    """What a page needs to show a film."""
    pyramid = bench.lightbox.pyramid(sha256)
    read = bench.lightbox.facts(sha256)
    picture = pyramid.film.picture
    return {
        "sha256": sha256,
        "width_px": picture.columns,
        "height_px": picture.rows,
        "bits_stored": picture.bits_stored,
        "tile_size": TILE_PX,
        "overlap": 0,
        "max_level": pyramid.max_level,
        "tile_url": f"/films/{sha256}/tiles/{{level}}/{{x}}_{{y}}.jpg",
        "value_range": _range(pyramid),
        "default_window": _window(picture.window),
        "windows": [_window(w) for w in picture.windows],
        "has_curve": picture.curve is not None,
        "facts": facts_plain(read.facts),
        "scale": scale_plain(scale_of(ScaleEvidence(header=read.facts.scale), where="header")),
        "findings": [finding_plain(f) for f in _findings(pyramid, read)],
    }


def _findings(pyramid: Pyramid, read: ReadFacts) -> list[Any]:
    return list({(f.id, f.words): f for f in (*read.findings, *pyramid.film.findings)}.values())


def _range(pyramid: Pyramid) -> list[int]:
    """Lowest and highest value of the overview, the whole film for the purpose of a slider."""
    values = pyramid.picture(0).values
    return [int(values.min()), int(values.max())]


def _window(window: Window) -> dict[str, Any]:
    return {
        "centre": window.centre,
        "width": window.width,
        "shape": window.shape.value,
        "name": window.name,
    }


def facts_plain(facts: HeaderFacts) -> dict[str, Any]:
    """What a header says, without the patient's identity."""
    return {
        "kind": facts.kind.value,
        "modality": facts.modality,
        "photometric": facts.photometric,
        "transfer_syntax": facts.transfer_syntax,
        "laterality": facts.laterality.value if facts.laterality else None,
        "projection": facts.projection.value if facts.projection else None,
        "view_position": facts.view_position,
        "right_side_at": facts.right_side_at.value if facts.right_side_at else None,
        "anterior_at": facts.anterior_at.value if facts.anterior_at else None,
        "body_part": facts.body_part,
        "acquisition_date": facts.acquisition_date.isoformat() if facts.acquisition_date else None,
        "study_date": facts.study_date.isoformat() if facts.study_date else None,
        "burned_in_annotation": facts.burned_in_annotation,
        "lossy": facts.lossy,
    }
