"""`limbwright film …`: assisted reading of one film for scripts; clicks in, what the film shows out."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from limbwright.cli.film_answer import ClickedPoint, answer, opened, plain
from limbwright.cli.film_case import (
    Into,
    into_case,
    line_ends,
    with_evidence,
    with_line,
    with_marks,
    with_walls,
)
from limbwright.error import Missing
from limbwright.finding import Finding

if TYPE_CHECKING:
    from limbwright.film.tracing import ShaftTrace

FILE = click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
SPACING = click.option(
    "--spacing", "spacing_mm", type=float, help="Millimetres per pixel; the header's else."
)
JSON = click.option("--json", "json_", is_flag=True, help="Write JSON.")
AT = click.option("--at", "at", type=ClickedPoint(), required=True, help="Rough click.")


def _ends(command: Callable[..., None]) -> Callable[..., None]:
    for name in ("second", "first"):
        command = click.option(
            f"--{name}", name, type=ClickedPoint(), required=True, help=f"The {name} click."
        )(command)
    return command


@click.group("film")
def command() -> None:
    """Find ball, head, joint lines, walls, nail and new bone on a film from rough clicks.

    Places are column and row in pixels from the centre of the top left pixel. What is found comes with its
    standard uncertainty and its support (0 to 1); where support is poor the command refuses. With --case it
    is written into a case file as well, with how it came about.
    """


@command.command("ball")
@FILE
@AT
@click.option(
    "--diameter", "diameter_mm", type=float, default=25.0, show_default=True, help="True diameter, mm."
)
@SPACING
@JSON
@into_case
def ball(
    *,
    file: Path,
    at: tuple[float, float],
    diameter_mm: float,
    spacing_mm: float | None,
    json_: bool,
    into: Into | None,
) -> None:
    """Calibration ball: centre, radius, and the blur of the film."""
    from limbwright.film.reading import development_of
    from limbwright.film.snap import find_ball

    film = opened(file, spacing_mm)
    found = find_ball(film.plate, at, diameter_mm=diameter_mm, development=development_of(film.picture))
    scale = {"mm_per_px_in_its_plane": diameter_mm / (2 * found.radius_px)}
    evidence = found.as_evidence(diameter_mm=diameter_mm)
    written = {} if into is None else into.write(film, with_evidence(ball=evidence))
    answer(file, film, {**plain(found), **scale, **written}, json_)


@command.command("head")
@FILE
@AT
@SPACING
@JSON
@into_case
def head(
    *, file: Path, at: tuple[float, float], spacing_mm: float | None, json_: bool, into: Into | None
) -> None:
    """Femoral head: centre and radius of its outline."""
    from limbwright.film.snap import find_head
    from limbwright.limb.landmark import Landmark

    film = opened(file, spacing_mm)
    found = find_head(film.plate, at)
    written = {}
    if into is not None:
        mark = found.mark(column_mm=film.plate.column_mm)
        written = into.write(film, with_marks(into.leg(), {Landmark.FEMORAL_HEAD_CENTRE: mark}))
    answer(file, film, {**plain(found), **written}, json_)


@command.command("tip")
@FILE
@AT
@click.option("--down", is_flag=True, help="The prominence points down the film, as a malleolus does.")
@click.option(
    "--landmark",
    type=click.Choice(["greater_trochanter_tip", "fibular_head_tip", "lateral_malleolus_tip"]),
    help="Which tip, for --case; from the direction it points without it.",
)
@SPACING
@JSON
@into_case
def tip(
    *,
    file: Path,
    at: tuple[float, float],
    down: bool,
    landmark: str | None,
    spacing_mm: float | None,
    json_: bool,
    into: Into | None,
) -> None:
    """Tip of the greater trochanter or another rounded prominence."""
    from limbwright.film.snap import find_tip
    from limbwright.limb.landmark import Landmark

    film = opened(file, spacing_mm)
    found = find_tip(film.plate, at, points_up=not down)
    written = {}
    if into is not None:
        usual = Landmark.LATERAL_MALLEOLUS_TIP if down else Landmark.GREATER_TROCHANTER_TIP
        which = usual if landmark is None else Landmark(landmark)
        mark = found.mark(column_mm=film.plate.column_mm)
        written = into.write(film, with_marks(into.leg(), {which: mark}))
    answer(file, film, {**plain(found), **written}, json_)


@command.command("line")
@FILE
@_ends
@click.option(
    "--kind", type=click.Choice(["condyles", "plateau", "plafond"]), required=True, help="Which line."
)
@click.option("--sagittal", is_flag=True, help="The film was taken from the side; the plateau only.")
@SPACING
@JSON
@into_case
def line(
    *,
    file: Path,
    first: tuple[float, float],
    second: tuple[float, float],
    kind: str,
    sagittal: bool,
    spacing_mm: float | None,
    json_: bool,
    into: Into | None,
) -> None:
    """Joint line from a rough click near each end."""
    from limbwright.film.snap import JointLine, find_joint_line
    from limbwright.limb.anatomy import Projection

    film = opened(file, spacing_mm)
    projection = Projection.SAGITTAL if sagittal else Projection.FRONTAL
    found = find_joint_line(film.plate, first, second, kind=JointLine(kind), projection=projection)
    written = {}
    if into is not None:
        ends = found.marks(column_mm=film.plate.column_mm)
        written = into.write(film, with_line(into.leg(), ends, line_ends(kind, projection)))
    answer(file, film, {**plain(found), **written}, json_)


@command.command("nail")
@FILE
@_ends
@click.option("--diameter", "diameter_mm", type=float, help="True diameter of that segment, mm; for --case.")
@SPACING
@JSON
@into_case
def nail(
    *,
    file: Path,
    first: tuple[float, float],
    second: tuple[float, float],
    diameter_mm: float | None,
    spacing_mm: float | None,
    json_: bool,
    into: Into | None,
) -> None:
    """Width and direction of one straight segment of a nail."""
    from limbwright.film.snap import find_nail

    film = opened(file, spacing_mm)
    found = find_nail(film.plate, first, second)
    written = {}
    if into is not None:
        if diameter_mm is None:
            raise Missing(
                "the diameter of the nail is not given.",
                where="--diameter",
                next_step="Give the true diameter of the segment that was clicked, in millimetres.",
            )
        evidence = found.as_evidence(diameter_mm=diameter_mm)
        written = into.write(film, with_evidence(nail=evidence))
    answer(file, film, {**plain(found), **written}, json_)


@command.command("ticks")
@FILE
@_ends
@click.option(
    "--interval", "interval_mm", type=float, default=10.0, show_default=True, help="Between ticks, mm."
)
@SPACING
@JSON
@into_case
def ticks(
    *,
    file: Path,
    first: tuple[float, float],
    second: tuple[float, float],
    interval_mm: float,
    spacing_mm: float | None,
    json_: bool,
    into: Into | None,
) -> None:
    """Ticks of a ruler between two clicks."""
    from limbwright.film.snap import find_ticks

    film = opened(file, spacing_mm)
    found = find_ticks(film.plate, first, second, interval_mm=interval_mm)
    ruler = found.as_evidence()
    written = {} if into is None else into.write(film, with_evidence(ruler=ruler))
    answer(file, film, {**plain(found), **written}, json_)


@command.command("wall")
@FILE
@click.option(
    "--at", "at", type=ClickedPoint(), multiple=True, required=True, help="Click; two or more, from above."
)
@click.option("--blur", "blur_mm", type=float, help="Blur of the film as the ball shows it, mm.")
@SPACING
@JSON
@into_case
def wall(
    *,
    file: Path,
    at: tuple[tuple[float, float], ...],
    blur_mm: float | None,
    spacing_mm: float | None,
    json_: bool,
    into: Into | None,
) -> None:
    """Both cortices of a shaft, its mid-diaphyseal line, and the isthmus of the canal."""
    from limbwright.film.tracing import trace_shaft
    from limbwright.film.tracing.case_walls import film_walls

    film = opened(file, spacing_mm)
    trace = trace_shaft(film.plate, at, blur_mm=blur_mm)
    content, findings = _shaft(trace, spaced=film.spaced)
    if into is not None:
        side, bone = into.leg(), into.traced_bone()
        walls = with_walls(side, bone, lambda f: film_walls(trace, f, side=side, bone=bone))
        content |= into.write(film, walls)
    answer(file, film, content, json_, more=findings)


@command.command("new-bone")
@FILE
@click.option(
    "--upper", type=ClickedPoint(), multiple=True, required=True, help="Clicks down the upper fragment."
)
@click.option(
    "--lower", type=ClickedPoint(), multiple=True, required=True, help="Clicks down the lower fragment."
)
@click.option("--gap", type=ClickedPoint(), nargs=2, required=True, help="Upper and lower end of the gap.")
@SPACING
@JSON
def new_bone(
    *,
    file: Path,
    upper: tuple[tuple[float, float], ...],
    lower: tuple[tuple[float, float], ...],
    gap: tuple[tuple[float, float], tuple[float, float]],
    spacing_mm: float | None,
    json_: bool,
) -> None:
    """Density, width and shape of new bone against the bone beside it."""
    from limbwright.film.new_bone import development_of, measure_new_bone
    from limbwright.film.tracing import trace_shaft

    film = opened(file, spacing_mm)
    found = measure_new_bone(
        film.plate,
        trace_shaft(film.plate, upper),
        trace_shaft(film.plate, lower),
        gap,
        development=development_of(film.picture),
    )
    content = {name: value for name, value in plain(found).items() if name != "findings"}
    answer(file, film, content, json_, more=found.findings)


@command.command("register")
@FILE
@click.argument("later", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--proximal", type=ClickedPoint(), nargs=2, required=True, help="Ends of the proximal piece, FILE."
)
@click.option("--distal", type=ClickedPoint(), nargs=2, required=True, help="Ends of the distal piece, FILE.")
@click.option("--proximal-later", type=ClickedPoint(), nargs=2, required=True, help="The same on LATER.")
@click.option("--distal-later", type=ClickedPoint(), nargs=2, required=True, help="The same on LATER.")
@click.option("--width", "width_mm", type=float, default=70.0, show_default=True, help="Width compared, mm.")
@SPACING
@JSON
def register(
    *,
    file: Path,
    later: Path,
    proximal: tuple[tuple[float, float], tuple[float, float]],
    distal: tuple[tuple[float, float], tuple[float, float]],
    proximal_later: tuple[tuple[float, float], tuple[float, float]],
    distal_later: tuple[tuple[float, float], tuple[float, float]],
    width_mm: float,
    spacing_mm: float | None,
    json_: bool,
) -> None:
    """What the distal fragment did between FILE and LATER, a later film of the same projection."""
    import math

    from limbwright.film.register import Patch, fragment_motion

    before, after = opened(file, spacing_mm), opened(later, spacing_mm)

    def middle(ends: tuple[tuple[float, float], tuple[float, float]]) -> tuple[float, float]:
        return 0.5 * (ends[0][0] + ends[1][0]), 0.5 * (ends[0][1] + ends[1][1])

    def patch(ends: tuple[tuple[float, float], tuple[float, float]]) -> Patch:
        across = (ends[1][0] - ends[0][0]) * before.plate.column_mm
        down = (ends[1][1] - ends[0][1]) * before.plate.row_mm
        return Patch(
            centre_px=middle(ends), along_px=ends[1], length_mm=math.hypot(across, down), width_mm=width_mm
        )

    found = fragment_motion(
        before.plate,
        after.plate,
        proximal=patch(proximal),
        distal=patch(distal),
        proximal_guess_px=middle(proximal_later),
        distal_guess_px=middle(distal_later),
        cut_px=distal[0],
    )
    answer(file, before, plain(found), json_)


def _shaft(trace: "ShaftTrace", *, spaced: bool) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    from limbwright.error import Refused
    from limbwright.film.tracing import isthmus, shaft_line
    from limbwright.limb.view import Surface

    content: dict[str, Any] = {"support": trace.support, "nail_in_canal": trace.nail is not None}
    for surface in Surface:
        for where, edge in zip(("viewer left", "viewer right"), trace.edge(surface), strict=True):
            content[f"{surface.value} wall, {where}"] = {
                "points_px": [[round(float(x), 2), round(float(y), 2)] for x, y in trace.points_px(edge)],
                "not_found_mm": trace.not_found(edge),
            }
    findings: tuple[Finding, ...] = ()
    content["mid_diaphyseal_line"] = plain(shaft_line(trace))
    if not spaced:
        return content, findings
    try:
        narrowest = isthmus(trace)
        content["isthmus"] = {k: v for k, v in plain(narrowest).items() if k != "findings"}
        findings = narrowest.findings
    except Refused as refusal:
        content["isthmus"] = None
        content["isthmus_refused"] = str(refusal)
    return content, findings
