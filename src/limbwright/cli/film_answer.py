"""What the film commands share: places on a film, opening one, and saying what was found."""

from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from limbwright.cli import show
from limbwright.error import Missing, Unreadable
from limbwright.finding import Finding

if TYPE_CHECKING:
    from limbwright.film.reading import Picture
    from limbwright.film.tracing import Plate

LARGEST_FILM_BYTES = 1 << 30


class ClickedPoint(click.ParamType[tuple[float, float]]):
    """A place on a film: column and row in pixels, as 1203,845."""

    name = "COLUMN,ROW"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Column and row of a typed point."""
        if isinstance(value, tuple):
            return value
        try:
            column, row = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(
                f"{value!r} is no place on a film; give column and row in pixels, as 1203,845.", param, ctx
            )
        return column, row


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenedFilm:
    """A film ready to be read."""

    picture: "Picture"
    """As decoded."""
    plate: "Plate"
    """Its grey values with their spacing."""
    spaced: bool
    """Whether the spacing is known, so that millimetres mean something."""
    findings: tuple[Finding, ...]
    """What was noticed while reading it."""


def opened(path: Path, spacing_mm: float | None) -> OpenedFilm:
    """Read a film file; millimetres are the header's unless given."""
    from limbwright.film.reading import read_picture
    from limbwright.film.tracing import film_plate

    try:
        size = path.stat().st_size
        if size > LARGEST_FILM_BYTES:
            raise Unreadable(
                f"{size:,} bytes, expected at most {LARGEST_FILM_BYTES:,}.",
                where=str(path),
                next_step="Check that this is a film.",
            )
        content = path.read_bytes()
    except OSError as error:
        raise Unreadable(
            f"the file cannot be read ({error.strerror}).",
            where=str(path),
            next_step="Check its name and that you may read it.",
        ) from error
    film = read_picture(content, name=path.name)
    found = film_plate(
        film.picture,
        film.facts.scale,
        name=path.name,
        spacing_mm=None if spacing_mm is None else (spacing_mm, spacing_mm),
    )
    return OpenedFilm(
        picture=film.picture,
        plate=found.plate,
        spaced=found.spaced,
        findings=(*film.findings, *found.findings),
    )


def plain(value: Any) -> Any:
    """A value as JSON has it."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, float):
        return round(value, 5)
    return value


def answer(
    file: Path, film: OpenedFilm, content: dict[str, Any], json_: bool, *, more: tuple[Finding, ...] = ()
) -> None:
    """Print what was found, as JSON or as a table with findings and the caution."""
    findings = (*film.findings, *more)
    if not film.spaced:
        content = _without_mm(content)
    if json_:
        show.as_json({"film": file.name, **content, "findings": plain(findings)})
        return
    rows = [(name.replace("_", " "), _said(value)) for name, value in content.items()]
    show.table(file.name, ("", ""), rows)
    show.findings(findings)
    show.caution()


def _without_mm(content: dict[str, Any]) -> dict[str, Any]:
    """Content without anything in millimetres, for a film without scale."""
    kept: dict[str, Any] = {}
    for name, value in content.items():
        if name.endswith("_mm") or "mm_per_px" in name:
            continue
        if isinstance(value, dict):
            if value.get("unit") == "mm":
                continue
            kept[name] = _without_mm(value)
        else:
            kept[name] = value
    if not kept:
        raise Missing(
            "everything asked for is a length, and the film has no scale.",
            where="film",
            next_step="Give --spacing, or calibrate by a ball, a ruler or a nail.",
        )
    return kept


def _said(value: Any) -> str:
    if isinstance(value, dict) and set(value) == {"value", "sd", "unit"}:
        return f"{value['value']:.2f} ± {1.96 * value['sd']:.2f} {value['unit']}"
    if isinstance(value, dict):
        inner = [f"{k.replace('_', ' ')} {_said(v)}" for k, v in value.items() if k != "points_px"]
        if "points_px" in value:
            inner.insert(0, f"{len(value['points_px'])} points")
        return ", ".join(inner)
    if isinstance(value, float):
        return f"{value:.3f}"
    if isinstance(value, list):
        return " ".join(_said(item) for item in value) or "none"
    return str(value)
