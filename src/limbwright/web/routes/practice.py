"""The practice's own numbers and its hardware."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse, PlainTextResponse

from limbwright.case.problem import Problem
from limbwright.error import LimbwrightError
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.shipped import shipped_catalogue
from limbwright.implant.writing import catalogue_to_toml
from limbwright.practice.document import profile_to_toml
from limbwright.practice.profile import Profile
from limbwright.practice.setting import settings
from limbwright.store.practice import Kind, Outdated
from limbwright.web.bench import Bench, Workbench
from limbwright.web.failure import Failure
from limbwright.web.identity import Reader, Signer
from limbwright.web.practice import profile_plain
from limbwright.web.wire import ResetCatalogue, ResetProfile, SaveCatalogue, SaveProfile

router = APIRouter(prefix="/api", tags=["practice"])


@router.get("/profile")
def profile(bench: Bench, who: Reader) -> Response:
    """Every setting with its meaning, range, default and source."""
    return JSONResponse(profile_plain(*bench.practice.profile()))


@router.get("/profile.toml", response_class=PlainTextResponse)
def profile_file(bench: Bench, who: Reader) -> Response:
    """The profile as a file to read and edit."""
    return PlainTextResponse(profile_to_toml(bench.practice.profile()[1]))


@router.put("/profile")
def save_profile(bench: Bench, who: Signer, body: SaveProfile) -> Response:
    """Change settings; all of them are checked before any is kept."""
    known = {one.name: one for one in settings()}
    answers: dict[str, Any] = {}
    problems = []
    for name, value in body.changes.items():
        if name not in known:
            problems.append(
                Problem(
                    path=name[:100],
                    value=str(value)[:100],
                    found="there is no such setting.",
                    next_step="Choose one from the list.",
                )
            )
            continue
        try:
            answers[name] = known[name].checked(value)
        except LimbwrightError as error:
            problems.append(
                Problem(path=name, value=str(value)[:100], found=error.found, next_step=error.next_step)
            )
    if problems:
        raise Failure(
            422,
            "refused",
            f"{len(problems)} setting(s) cannot be taken: {problems[0].found}",
            where="practice profile",
            next_step="Correct them; nothing was changed.",
            problems=tuple(problems),
        )
    _, before = bench.practice.profile()
    _keep_profile(bench, replace(before, **answers), body.base_version, who.name, body.why)
    return JSONResponse(profile_plain(*bench.practice.profile()))


@router.post("/profile/reset")
def reset_profile(bench: Bench, who: Signer, body: ResetProfile) -> Response:
    """Take settings back to our defaults."""
    _, before = bench.practice.profile()
    known = {one.name: one.default for one in settings()}
    names = list(known) if body.names is None else body.names
    unknown = [name for name in names if name not in known]
    if unknown:
        raise Failure(
            422,
            "refused",
            f"there is no setting {unknown[0][:100]!r}.",
            where="practice profile",
            next_step="Choose settings from the list.",
        )
    fresh: dict[str, Any] = {name: known[name] for name in names}
    _keep_profile(bench, replace(before, **fresh), body.base_version, who.name, body.why or "reset")
    return JSONResponse(profile_plain(*bench.practice.profile()))


def _keep_profile(bench: Workbench, profile: Profile, base: int, who: str, why: str) -> None:
    _keep(bench, Kind.PROFILE, profile_to_toml(profile), base=base, who=who, why=why)


def _keep(bench: Workbench, kind: Kind, text: str, *, base: int, who: str, why: str) -> None:
    try:
        bench.store.practice.save(kind, text, based_on=base, who=who, why=why or "no reason given")
    except Outdated as error:
        raise Failure(
            409,
            "conflict",
            error.found,
            where=error.where,
            next_step=error.next_step,
            extra={"version": error.newest.version.number, "base_version": error.based_on},
        ) from None


@router.get("/catalogue")
def catalogue(bench: Bench, who: Reader) -> Response:
    """Nails and screws, and the file they stand in."""
    return JSONResponse(catalogue_plain(bench))


@router.put("/catalogue")
def save_catalogue(bench: Bench, who: Signer, body: SaveCatalogue) -> Response:
    """Keep a catalogue file; it is read once before it is kept."""
    _keep(bench, Kind.CATALOGUE, body.toml, base=body.base_version, who=who.name, why=body.why)
    return JSONResponse(catalogue_plain(bench))


@router.post("/catalogue/reset")
def reset_catalogue(bench: Bench, who: Signer, body: ResetCatalogue) -> Response:
    """Back to the shipped, invented catalogue, as a new version."""
    text = catalogue_to_toml(shipped_catalogue())
    _keep(bench, Kind.CATALOGUE, text, base=body.base_version, who=who.name, why=body.why or "reset")
    return JSONResponse(catalogue_plain(bench))


def catalogue_plain(bench: Workbench) -> dict[str, Any]:
    """The catalogue in force, item by item, with its file."""
    version, found = bench.practice.catalogue()
    document = bench.store.practice.current(Kind.CATALOGUE)
    return {
        "version": version,
        "title": found.title,
        "note": found.note,
        "invented": found.invented,
        **_items(found),
        "toml": catalogue_to_toml(found) if document is None else document.text,
    }


def _items(found: Catalogue) -> dict[str, Any]:
    from pydantic import TypeAdapter

    plain = TypeAdapter(Catalogue).dump_python(found, mode="json")
    return {"nails": plain["nails"], "screws": plain["screws"]}
