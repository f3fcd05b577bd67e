"""Results of the film commands written into a case file, each with how it came about."""

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from limbwright.cli.film_answer import OpenedFilm
from limbwright.error import Contradiction, Missing
from limbwright.limb.anatomy import Bone, Projection, Side

if TYPE_CHECKING:
    from limbwright.film.film import Film, FilmWall, Mark
    from limbwright.limb.landmark import Landmark
    from limbwright.limb.view import Border

Change = Callable[["Film"], "Film"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Into:
    """Where in a case a result goes."""

    case_file: Path
    """The case file; rewritten as a whole, or left as it was."""
    film: str | None
    """Name of the film in the case; its only film when absent."""
    side: Side | None
    """Leg it belongs to."""
    bone: Bone | None
    """Bone it belongs to."""

    def leg(self) -> Side:
        """The leg, which landmarks and walls need."""
        if self.side is None:
            raise Missing(
                "no leg was named.",
                where="--side",
                next_step="Add --side right or --side left: a mark belongs to one leg.",
            )
        return self.side

    def traced_bone(self) -> Bone:
        """The bone, which walls need."""
        if self.bone is None:
            raise Missing(
                "no bone was named.",
                where="--bone",
                next_step="Add --bone femur, tibia or fibula: a wall belongs to one bone.",
            )
        return self.bone

    def write(self, opened: OpenedFilm, change: Change) -> dict[str, str]:
        """Change the film in the case file, which must be the one opened; what was done, in words."""
        from limbwright.case.document import case_to_json
        from limbwright.cli import load

        case = load.case_at(self.case_file, complete=False)
        names = [film.name for film in case.films]
        name = names[0] if self.film is None and len(names) == 1 else self.film
        if name not in names:
            asked = "no film was named" if name is None else f"it has no film {name!r}"
            raise Missing(
                f"{asked}; its films: {', '.join(repr(n) for n in names) or 'none'}.",
                where=str(self.case_file),
                next_step="Give the name of one of them with --on.",
            )
        (kept,) = (film for film in case.films if film.name == name)
        rows, columns = opened.picture.values.shape
        if (kept.width_px, kept.height_px) != (columns, rows):
            raise Contradiction(
                f"film {name!r} of the case has {kept.width_px} x {kept.height_px} px, "
                f"this one {columns} x {rows}.",
                where=str(self.case_file),
                next_step="Give the film file that belongs to that film of the case.",
            )
        films = tuple(change(film) if film.name == name else film for film in case.films)
        text = case_to_json(replace(case, films=films))
        # Written beside it and moved over it, so that a crash leaves the old file or the new one.
        part = self.case_file.with_name(self.case_file.name + ".part")
        part.write_text(text, encoding="utf-8")
        os.replace(part, self.case_file)
        return {"written_to_case": case.id, "written_to_film": str(name)}


def into_case(command: Callable[..., None]) -> Callable[..., None]:
    """Adds `--case`, `--on`, `--side` and `--bone`; the command gets them as `into`, or None."""

    def with_into(
        *, case_file: Path | None, film_name: str | None, side: str | None, bone: str | None, **rest: Any
    ) -> None:
        into = None
        if case_file is not None:
            into = Into(
                case_file=case_file,
                film=film_name,
                side=None if side is None else Side(side),
                bone=None if bone is None else Bone(bone),
            )
        command(into=into, **rest)

    with_into.__name__, with_into.__doc__ = command.__name__, command.__doc__
    with_into.__click_params__ = getattr(command, "__click_params__", [])  # type: ignore[attr-defined]  # click's own
    wrapped: Callable[..., None] = with_into
    for option in (
        click.option("--bone", type=click.Choice([b.value for b in Bone]), help="Bone of a wall."),
        click.option("--side", type=click.Choice([s.value for s in Side]), help="Leg of a mark or a wall."),
        click.option("--on", "film_name", help="Name of the film in that case; its only one without it."),
        click.option(
            "--case",
            "case_file",
            type=click.Path(path_type=Path, dir_okay=False),
            help="Case file to write the result into, marked as snapped.",
        ),
    ):
        wrapped = option(wrapped)
    return wrapped


def with_evidence(**found: Any) -> Change:
    """Set evidence of scale: `ball`, `ruler` or `nail`."""
    return lambda film: replace(film, scale=replace(film.scale, **found))


def with_marks(side: Side, marks: "dict[Landmark, Mark]") -> Change:
    """Set landmarks of one leg."""

    def change(film: "Film") -> "Film":
        known = {**film.marks(side), **marks}
        return replace(film, right=known) if side is Side.RIGHT else replace(film, left=known)

    return change


def with_line(side: Side, ends: "tuple[Mark, Mark]", by_border: "dict[Border, Landmark]") -> Change:
    """Set both ends of a joint line; which is which follows from side and film."""

    def change(film: "Film") -> "Film":
        from limbwright.film.tracing.case_walls import borders

        if not set(borders(film, side)) & set(by_border):
            raise Contradiction(
                f"film {film.name!r} is {film.projection}.",
                where="joint line",
                next_step="Give --sagittal for a film from the side, leave it out for a frontal film.",
            )
        from_left = sorted(ends, key=lambda mark: mark.x_px)
        marks = {by_border[b]: mark for b, mark in zip(borders(film, side), from_left, strict=True)}
        return with_marks(side, marks)(film)

    return change


def with_walls(side: Side, bone: Bone, walls: "Callable[[Film], tuple[FilmWall, ...]]") -> Change:
    """Set the walls of a stretch of bone; what was traced of it before is replaced, other stretches stay."""

    def change(film: "Film") -> "Film":
        new = walls(film)
        top = min(min(wall.y_px) for wall in new)
        bottom = max(max(wall.y_px) for wall in new)

        def stays(wall: "FilmWall") -> bool:
            other = wall.side is not side or wall.bone is not bone
            return other or max(wall.y_px) < top or min(wall.y_px) > bottom

        return replace(film, walls=(*(wall for wall in film.walls if stays(wall)), *new))

    return change


def line_ends(kind: str, projection: Projection) -> "dict[Border, Landmark]":
    """Landmarks at the ends of a joint line, by the border of the bone they lie at."""
    from limbwright.limb.landmark import Landmark
    from limbwright.limb.view import Border

    if projection is Projection.SAGITTAL:
        return {
            Border.ANTERIOR: Landmark.PLATEAU_ANTERIOR,
            Border.POSTERIOR: Landmark.PLATEAU_POSTERIOR,
        }
    medial, lateral = {
        "condyles": (Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
        "plateau": (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
        "plafond": (Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
    }[kind]
    return {Border.MEDIAL: medial, Border.LATERAL: lateral}
