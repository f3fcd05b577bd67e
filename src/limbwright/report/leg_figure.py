"""The leg on its film at each stage, the film cut at the osteotomies and moved, with overlays in millimetres.

One panel per stage and plane, all at one scale and with the knee at one height. The state of a line is told
by colour and line style together: what was read on the film is ochre, what is planned is teal.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.leg import FilmFrame
from limbwright.limb.anatomy import Projection
from limbwright.plan.canal import ACROSS
from limbwright.plan.decision import Plan
from limbwright.plan.drawing import Drawing, drawing, film_to_stage, fragment_depth_mm, poses
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import PROXIMAL, STAY, Motion
from limbwright.plan.reduction import Reduction
from limbwright.plan.shape import Shape, ShapeKind
from limbwright.plan.stage import StageName
from limbwright.report import svg
from limbwright.report.film_image import FilmImage

Affine = NDArray[np.float64]

FILM = "#0b0d10"
SEEN = "#e0a030"
PLANNED = "#2a9d9a"
PLANNED_BRIGHT = "#6fd6d1"
LABEL = "#e9e4d8"
INK = "#1c2430"
# Size of the type as a share of the figure's width: about 6.5 points on a column of 95 mm.
PRINTED_TYPE_SHARE = 0.024
# The same for figures that are limited by their height, a whole leg on 150 mm.
PRINTED_TYPE_SHARE_OF_HEIGHT = 0.017
# Room a letter takes, as a share of its size; the plane is named where the title has room for it.
LETTER_WIDTH = 0.5
_FAR_PX = 1e5
_LABEL_MM = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmOfLeg:
    """A film and how its pixels map to the view the leg model was made of."""

    image: FilmImage
    frame: FilmFrame
    knee_centre: tuple[float, float]
    """Tibial knee centre in that view (across, proximal) [mm]."""
    across_range_px: tuple[float, float]
    """Columns of the original film that show this leg [px]."""

    @property
    def toward_right(self) -> float:
        """+1 when across + points to the viewer's right, else -1."""
        return 1.0 if self.frame.across_per_column_mm > 0 else -1.0

    def limb_from_film(self) -> Affine:
        """Map from (x, y, 1) in original pixels to (across, proximal) of the view, (2, 3)."""
        corners = np.array([self.frame.limb_point(x, y) for x, y in ((0, 0), (1, 0), (0, 1))])
        return np.column_stack([corners[1] - corners[0], corners[2] - corners[0], corners[0]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The part of the leg frame that panels show (across × proximal)."""

    across_mm: tuple[float, float]
    proximal_mm: tuple[float, float]

    @property
    def width_mm(self) -> float:
        """Extent across."""
        return self.across_mm[1] - self.across_mm[0]

    @property
    def height_mm(self) -> float:
        """Extent along the leg."""
        return self.proximal_mm[1] - self.proximal_mm[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Panel:
    """One plane at one stage: where it lies in the figure, and how leg millimetres become its coordinates."""

    left: float
    window: Window
    projection: Projection
    stage: StageName
    film: FilmOfLeg | None
    type_mm: float

    @property
    def top(self) -> float:
        """Upper border of the panel, below its title."""
        return 2.0 * self.type_mm

    @property
    def toward_right(self) -> float:
        """+1 when across + points to the viewer's right, else -1."""
        return 1.0 if self.film is None else self.film.toward_right

    @property
    def name(self) -> str:
        """A name that no other panel of the figure has."""
        return f"p{round(self.left)}"

    def place(self, across_mm: float, proximal_mm: float) -> tuple[float, float]:
        low, high = self.window.across_mm
        from_left = across_mm - low if self.toward_right > 0 else high - across_mm
        return self.left + from_left, self.top + self.window.proximal_mm[1] - proximal_mm

    def matrix(self, stage_from_film: Affine) -> str:
        """The transform from picture pixels to figure coordinates, as SVG writes it."""
        low, high = self.window.across_mm
        flip = np.diag([self.toward_right, -1.0])
        moved = flip @ stage_from_film
        moved[0, 2] += self.left + (-low if self.toward_right > 0 else high)
        moved[1, 2] += self.top + self.window.proximal_mm[1]
        a, c, e = moved[0]
        b, d, f = moved[1]
        return f"matrix({a:.6f} {b:.6f} {c:.6f} {d:.6f} {e:.4f} {f:.4f})"


def stages_figure(
    leg: LegModel,
    plan: Plan,
    films: Sequence[tuple[Projection, FilmOfLeg | None]],
    window: Window,
    *,
    stages: Sequence[StageName] = tuple(StageName),
    gap_mm: float = 6.0,
) -> bytes:
    """All stages of each plane side by side.

    Parameters
    ----------
    leg, plan : LegModel, Plan
        What is drawn.
    films : sequence of (Projection, FilmOfLeg or None)
        The planes to draw; without a film the overlays stand on an empty dark ground.
    window : Window
        Part of the leg shown; the same for all panels, so that they are at one scale.

    Returns
    -------
    bytes
        An SVG document, one unit per millimetre of leg.
    """
    content: list[str] = []
    left = 0.0
    whole_mm = len(films) * len(stages) * (window.width_mm + gap_mm)
    # Words come out at one size in print, however many millimetres of leg the figure shows.
    type_mm = max(PRINTED_TYPE_SHARE * whole_mm, PRINTED_TYPE_SHARE_OF_HEIGHT * window.height_mm)
    for projection, film in films:
        for stage in stages:
            panel = _Panel(
                left=left, window=window, projection=projection, stage=stage, film=film, type_mm=type_mm
            )
            content += _drawn_panel(leg, plan, panel)
            left += window.width_mm + gap_mm
    return svg.document(left - gap_mm, panel.top + window.height_mm, content)


def _drawn_panel(leg: LegModel, plan: Plan, panel: _Panel) -> list[str]:
    window = panel.window
    frame = {"x": panel.left, "y": panel.top, "width": window.width_mm, "height": window.height_mm}
    out = [svg.box(**frame, fill=FILM), svg.clip(panel.name, svg.box(**frame))]
    inside = [] if panel.film is None else _film_pieces(leg, plan, panel, panel.film)
    shown = drawing(leg, plan, panel.projection, panel.stage)
    inside += [drawn for shape in shown.shapes for drawn in _shape(shape, panel)]
    inside += _cut_labels(shown, panel)
    out.append(svg.group(inside, clip_path=f"url(#{panel.name})"))
    title = f"{panel.stage} · {panel.projection}"
    if LETTER_WIDTH * panel.type_mm * len(title) > window.width_mm:
        title = panel.stage.value
    out.append(svg.words(panel.left, 1.3 * panel.type_mm, title, font_size=panel.type_mm, fill=INK))
    return out


def _film_pieces(leg: LegModel, plan: Plan, panel: _Panel, film: FilmOfLeg) -> list[str]:
    """The film in one piece as it stands, else cut at the osteotomies with every piece at its fragment."""
    shrunk = np.diag([film.image.shrunk_by, film.image.shrunk_by, 1.0])
    limb = film.limb_from_film()
    at = poses(leg, plan, panel.stage)
    # Femur before tibia, so that pieces follow each other down the leg.
    ordered = [] if panel.stage is StageName.AS_IT_STANDS else [at[bone] for bone in sorted(at)]
    reductions = [reduced for pose in ordered for reduced in pose.reductions]
    cuts = [_cut_rows(film, reduced, panel.projection) for reduced in reductions]
    motions: list[Motion] = [
        ordered[0].proximal if ordered else STAY,
        *(motion for pose in ordered for motion in pose.motions[1:]),
    ]
    borders = [(-_FAR_PX, -_FAR_PX), *cuts, (_FAR_PX, _FAR_PX)]
    low, high = film.across_range_px
    pieces = []
    for index, motion in enumerate(motions):
        nearest = reductions[max(0, index - 1)] if reductions else None
        depth = 0.0 if nearest is None else fragment_depth_mm(nearest, panel.projection)
        stage_from_film = film_to_stage(limb, film.knee_centre, motion, panel.projection, depth)
        matrix = panel.matrix(stage_from_film @ shrunk)
        (top_low, top_high), (bottom_low, bottom_high) = borders[index], borders[index + 1]
        outline = [(low, top_low), (high, top_high), (high, bottom_high), (low, bottom_low)]
        small = [(x / film.image.shrunk_by, y / film.image.shrunk_by) for x, y in outline]
        piece = f"{panel.name}s{index}"
        pieces.append(svg.clip(piece, svg.area(small, transform=matrix)))
        picture = svg.image(
            film.image.data_uri(), width=film.image.width, height=film.image.height, transform=matrix
        )
        pieces.append(svg.group([picture], clip_path=f"url(#{piece})"))
    return pieces


def _cut_rows(film: FilmOfLeg, reduced: Reduction, projection: Projection) -> tuple[float, float]:
    """Film rows at which an osteotomy meets the two borders of the leg's columns [px]."""
    cut, across = reduced.cut, ACROSS[projection]
    centre = np.array([cut.point_mm[across], cut.point_mm[PROXIMAL]]) + film.knee_centre
    # Along the cut, seen in this plane: at right angles to its normal.
    along = np.array([-cut.normal[PROXIMAL], cut.normal[across]])
    (x0, y0), (x1, y1) = (film.frame.film_point(*(centre + along * t)) for t in (-50.0, 50.0))
    slope = (y1 - y0) / (x1 - x0)
    low, high = film.across_range_px
    return y0 + slope * (low - x0), y0 + slope * (high - x0)


def _shape(shape: Shape, panel: _Panel) -> list[str]:
    places = [panel.place(*point) for point in shape.points_mm]
    standing = panel.stage is StageName.AS_IT_STANDS
    style = _STYLES.get(shape.kind)
    if style is None or (shape.kind is ShapeKind.BONE_AXIS and not standing):
        return []
    colour = SEEN if standing and shape.kind in _READ else PLANNED_BRIGHT
    if shape.radius_mm is not None:
        x, y = places[0]
        return [svg.circle(x, y, shape.radius_mm, fill="none", stroke=colour, stroke_width=1.2)]
    if shape.kind is ShapeKind.APEX:
        x, y = places[0]
        diamond = [(x, y - 4), (x + 4, y), (x, y + 4), (x - 4, y)]
        return [
            svg.area(diamond, fill=SEEN, stroke=FILM, stroke_width=0.6),
            *_label("apex", x + 5, y, panel, colour=SEEN, at_right=True),
        ]
    if shape.closed:
        return [svg.area(places, fill=PLANNED, fill_opacity=0.55, stroke=PLANNED_BRIGHT, stroke_width=0.7)]
    return [svg.line(places, stroke=colour, **style)]


def _cut_labels(shown: Drawing, panel: _Panel) -> list[str]:
    """The name of every cut beside its upper face, as the leg stands."""
    if panel.stage is not StageName.AS_IT_STANDS:
        return []
    upper: dict[str, Shape] = {}
    for shape in shown.of_kind(ShapeKind.OSTEOTOMY):
        upper.setdefault(shape.label.rpartition(", ")[0], shape)
    drawn = []
    for name, shape in upper.items():
        x, y = min(panel.place(*point) for point in shape.points_mm)
        short = name.partition(" of the ")[0].replace("second", "2nd")
        drawn += _label(short, x - 1, y, panel, colour=LABEL, at_right=False)
    return drawn


def _label(words: str, x: float, y: float, panel: _Panel, *, colour: str, at_right: bool) -> list[str]:
    """Words beside the bone at the panel's border, with a thin leader to their line."""
    right = panel.left + panel.window.width_mm
    edge = right - _LABEL_MM if at_right else panel.left + _LABEL_MM
    text_x = right - 2 if at_right else panel.left + 2
    return [
        svg.line([(x, y), (edge, y)], stroke=colour, stroke_width=0.4),
        svg.words(
            text_x,
            y - 2.5,
            words,
            font_size=0.9 * panel.type_mm,
            fill=colour,
            text_anchor="end" if at_right else "start",
        ),
    ]


_READ = {ShapeKind.JOINT_LINE, ShapeKind.MECHANICAL_AXIS, ShapeKind.BONE_AXIS}
_STYLES: dict[ShapeKind, dict[str, str | float]] = {
    ShapeKind.JOINT_LINE: {"stroke_width": 0.9},
    ShapeKind.MECHANICAL_AXIS: {"stroke_width": 1.0, "stroke_dasharray": "7 3"},
    ShapeKind.BONE_AXIS: {"stroke_width": 0.5, "stroke_dasharray": "1.5 2.5"},
    ShapeKind.NAIL_LINE: {"stroke_width": 0.8, "stroke_dasharray": "4 2"},
    ShapeKind.NAIL_THICK: {"stroke_width": 1.0},
    ShapeKind.NAIL_THIN: {"stroke_width": 1.0},
    ShapeKind.LOCKING_SCREW: {"stroke_width": 1.6},
    ShapeKind.BLOCKING_SCREW: {"stroke_width": 2.4},
    ShapeKind.OSTEOTOMY: {"stroke_width": 1.1},
    ShapeKind.APEX: {},
}
