"""Rough clicks on a follow-up film become marks: snapped where the film shows what is meant, else as clicked.

What could not be snapped says why; nothing is dropped silently.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

import numpy as np

from limbwright.course.film_clicks import FilmClicks, Point
from limbwright.course.film_marks import FibulaMarks, FollowUpMarks, Pair
from limbwright.error import LimbwrightError
from limbwright.film.film import Mark, Provenance
from limbwright.film.new_bone import Development, NewBone, measure_new_bone
from limbwright.film.snap import JointLine, find_joint_line, find_nail, find_tip
from limbwright.film.snap.nail_ends import find_junction, find_nail_end
from limbwright.film.tracing import Plate, ShaftTrace, shaft_line, trace_shaft
from limbwright.film.tracing.plate import Image
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import Value

BACK_OFF_MM = 3.0
"""How far a fragment's trace stays away from its end at the osteotomy; engineering judgement. [mm]"""
LEAST_GAP_MM = 2.0
"""Shortest gap whose new bone is measured. [mm]"""
CLICK_SD_MM = 1.0
"""Standard uncertainty of a hurried click across a bone; engineering judgement. [mm]"""
SNAP_REACH_MM = 3.5
"""How far from its click a joint line or a tip may be found; engineering judgement. [mm]"""
TRACED_SHARES = (1.0, 0.8, 0.6)
"""Shares of a fragment's stretch that are traced in turn."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class NotSnapped(Value):
    """Something that stands as it was clicked."""

    what: str
    """What was looked for."""
    why: str
    """What was found instead."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AssistedFilm(Value):
    """One follow-up film, marked with help."""

    marks: FollowUpMarks
    """Marks, each with how it was placed."""
    new_bone: NewBone | None
    """New bone in the gap; None where it was not marked, is too short, or could not be measured."""
    not_snapped: tuple[NotSnapped, ...]
    """What was left as clicked, or not measured, and why."""


def assisted_film(
    grey: Image, clicks: FilmClicks, nail: Nail, *, development: Development, white: float | None = None
) -> AssistedFilm:
    """Mark a follow-up film from rough clicks.

    Parameters
    ----------
    grey : array
        Grey values, bright where much was absorbed. Shape (rows, columns).
    clicks : FilmClicks
        Up to about 4 mm off; along the nail its ends up to 5 mm.
    nail : Nail
        The nail in the bone; the length of its thick part gives the first scale.
    development : Development
        How attenuation became grey.
    white : float, optional
        Grey value at which the film is burnt out.

    Raises
    ------
    OutOfRange
        If a click lies off the film.

    Notes
    -----
    Nail: both edges of the straight thick part, and the ends, by their steepest grey. Fragments: both outer
    walls traced from 3 mm beside the osteotomy to the click; the axis is the mid-diaphyseal line. Ends of the
    gap: where the cortices end. Joint lines and tips of the fibula on frontal films.
    """
    return _Reader(grey, clicks, nail, development, white).read()


class _Reader:
    """One film being marked; collects what could not be snapped."""

    def __init__(
        self, grey: Image, clicks: FilmClicks, nail: Nail, development: Development, white: float | None
    ) -> None:
        thick_px = math.dist(clicks.nail_thick_end, clicks.nail_junction)
        mm = nail.thick_length_mm / max(thick_px, 1.0)
        mm = min(max(mm, 0.02), 4.0)
        self.plate = Plate(grey=grey, row_mm=mm, column_mm=mm, white=white)
        self.plate.require_on_film(tuple(clicks.places().values()))
        self.clicks, self.nail, self.development, self.mm = clicks, nail, development, mm
        self.left: list[NotSnapped] = []

    def read(self) -> AssistedFilm:
        """Everything the clicks ask for."""
        c = self.clicks
        thick_end, junction, thin_end = self._ends()
        upper, lower = self._traces()
        found = self._new_bone(upper, lower)
        ends = (c.cut_upper, c.cut_lower) if found is None else found.ends_px
        way = _unit(c.nail_thick_end, c.nail_thin_end)
        frontal = c.projection is Projection.FRONTAL
        knee, ankle = self._joint_line("knee"), self._joint_line("ankle")
        marks = FollowUpMarks(
            film=c.film,
            bone=c.bone,
            projection=c.projection,
            across_to=c.across_to,
            nail_edges=(self._edges(),),
            nail_thick_end=thick_end,
            nail_junction=junction,
            nail_thin_end=thin_end,
            proximal_edge=_cut_edge(upper, ends[0], way, last=True),
            distal_edge=_cut_edge(lower, ends[1], way, last=False),
            proximal_axis=self._axis(upper, c.proximal_upper, c.cut_upper, "proximal axis"),
            distal_axis=self._axis(lower, c.cut_lower, c.distal_lower, "distal axis"),
            fibula=self._fibula(knee, ankle) if frontal and c.bone is Bone.TIBIA else None,
            knee_line=knee,
            ankle_line=ankle,
            femoral_head=None if c.femoral_head is None else _clicked(c.femoral_head),
        )
        return AssistedFilm(marks=marks, new_bone=found, not_snapped=tuple(self.left))

    def _try(self, what: str, work: Callable[[], T]) -> T | None:
        try:
            return work()
        except LimbwrightError as error:
            self.left.append(NotSnapped(what=what, why=error.found))
            return None

    def _ends(self) -> tuple[Mark, Mark, Mark]:
        c, nail, plate = self.clicks, self.nail, self.plate
        places = (
            (
                "nail's thick end",
                c.nail_thick_end,
                lambda: find_nail_end(
                    plate, c.nail_thick_end, c.nail_junction, width_mm=nail.thick_diameter_mm
                ),
            ),
            (
                "step from thick to thin part",
                c.nail_junction,
                lambda: find_junction(
                    plate,
                    c.nail_junction,
                    c.nail_thick_end,
                    thick_mm=nail.thick_diameter_mm,
                    thin_mm=nail.thin_diameter_mm,
                ),
            ),
            (
                "nail's thin end",
                c.nail_thin_end,
                lambda: find_nail_end(
                    plate, c.nail_thin_end, c.nail_junction, width_mm=nail.thin_diameter_mm
                ),
            ),
        )
        marks = []
        for what, clicked, work in places:
            found = self._try(what, work)
            marks.append(_clicked(clicked) if found is None else found.mark(column_mm=self.mm))
        return marks[0], marks[1], marks[2]

    def _edges(self) -> Pair:
        """Both edges of the straight thick part, opposite each other; a film without them has no scale."""
        c, nail = self.clicks, self.nail
        bent = nail.bend_deg > 0 and nail.bend_plane is c.projection
        lean_px = nail.bend_depth_mm * math.sin(math.radians(nail.bend_deg)) / self.mm if bent else 0.0
        start = min((nail.bend_depth_mm + 15.0) / nail.thick_length_mm, 0.6) if bent else 0.15
        found = None
        # A bent entry end lies beside the axis of the straight part, at one side or the other of the viewer.
        for shift in (0.0, lean_px, -lean_px) if bent else (0.0,):
            top = (c.nail_thick_end[0] + shift, c.nail_thick_end[1])
            ends = _share(top, c.nail_junction, start), _share(top, c.nail_junction, 0.85)
            try:
                found = find_nail(self.plate, *ends)
                break
            except LimbwrightError:
                continue
        # Once more along what was found; where nothing was, this says why.
        again = ends if found is None else (found.upper_px, found.lower_px)
        found = find_nail(self.plate, *again)
        middle = _share(found.upper_px, found.lower_px, 0.5)
        along = _unit(found.upper_px, found.lower_px)
        half = 0.5 * found.width_px

        def edge(sign: float) -> Mark:
            return Mark(
                x_px=middle[0] + sign * half * along[1],
                y_px=middle[1] - sign * half * along[0],
                sd_px=max(found.width_sd_px, 0.01),
                provenance=Provenance.SNAPPED,
            )

        return edge(-1.0), edge(1.0)

    def _traces(self) -> tuple[ShaftTrace | None, ShaftTrace | None]:
        c = self.clicks
        if c.proximal_upper is None or c.cut_upper is None or c.cut_lower is None or c.distal_lower is None:
            return None, None
        return (
            self._fragment("proximal", c.cut_upper, c.proximal_upper),
            self._fragment("distal", c.cut_lower, c.distal_lower),
        )

    def _fragment(self, which: str, cut: Point, far: Point) -> ShaftTrace | None:
        """Walls of one fragment, over the share of the stretch on which they tell the clearest axis.

        A trace that leaves the bone for the nail or the fibula shows another direction than the clicks do.
        """
        near = _toward(cut, far, BACK_OFF_MM / self.mm)
        length_mm = math.dist(cut, far) * self.mm
        limit_deg = math.degrees(3.0 * math.sqrt(2.0) * CLICK_SD_MM / max(length_mm, 1.0))
        best: tuple[float, ShaftTrace] | None = None
        why = ""
        for share in TRACED_SHARES:
            end = _share(near, far, share)
            ends = (end, near) if which == "proximal" else (near, end)
            try:
                trace = trace_shaft(self.plate, ends)
                line = shaft_line(trace)
            except LimbwrightError as error:
                why = why or error.found
                continue
            clicked = (far, cut) if which == "proximal" else (cut, far)
            turn_deg = line.direction_deg - _direction_deg(*clicked)
            if abs(turn_deg) > limit_deg:
                why = why or f"the walls turn {abs(turn_deg):.1f} deg away from the clicks."
            elif best is None or line.direction_sd_deg < 0.7 * best[0]:
                best = (line.direction_sd_deg, trace)
        if best is None:
            self.left.append(NotSnapped(what=f"walls of the {which} fragment", why=why))
            return None
        return best[1]

    def _axis(
        self, trace: ShaftTrace | None, upper: Point | None, lower: Point | None, what: str
    ) -> Pair | None:
        if upper is None or lower is None:
            return None
        line = None if trace is None else self._try(what, lambda: shaft_line(trace))
        if line is None:
            return _clicked(upper), _clicked(lower)
        sd_px = max(line.offset_sd_mm / self.mm, 0.01)
        a, b = (
            Mark(x_px=p[0], y_px=p[1], sd_px=sd_px, provenance=Provenance.SNAPPED)
            for p in (line.upper_px, line.lower_px)
        )
        return a, b

    def _new_bone(self, upper: ShaftTrace | None, lower: ShaftTrace | None) -> NewBone | None:
        c = self.clicks
        if upper is None or lower is None or c.cut_upper is None or c.cut_lower is None:
            return None
        cut = (c.cut_upper, c.cut_lower)
        if math.dist(*cut) * self.mm < LEAST_GAP_MM:
            return None
        return self._try(
            "new bone",
            lambda: measure_new_bone(self.plate, upper, lower, cut, development=self.development),
        )

    def _joint_line(self, joint: str) -> Pair | None:
        c = self.clicks
        outer, inner = getattr(c, f"{joint}_outer"), getattr(c, f"{joint}_inner")
        if outer is None or inner is None:
            return None
        if c.projection is Projection.SAGITTAL:
            return _clicked(outer), _clicked(inner)
        kind = (
            JointLine.PLAFOND
            if joint == "ankle"
            else JointLine.PLATEAU
            if c.bone is Bone.TIBIA
            else JointLine.CONDYLES
        )
        found = self._try(f"{joint} line", lambda: find_joint_line(self.plate, outer, inner, kind=kind))
        if found is None:
            return _clicked(outer), _clicked(inner)
        # Its ends may lie elsewhere along the line: only a line beside the clicked one is another line.
        beside_px = max(_beside(at, outer, inner) for at in (found.first_px, found.second_px))
        if beside_px * self.mm > SNAP_REACH_MM:
            self.left.append(NotSnapped(what=f"{joint} line", why="an edge further off was found."))
            return _clicked(outer), _clicked(inner)
        return found.marks(column_mm=self.mm)

    def _fibula(self, knee: Pair | None, ankle: Pair | None) -> FibulaMarks | None:
        c = self.clicks
        if knee is None or ankle is None or c.fibular_head is None or c.malleolus is None:
            return None
        tips = []
        for what, at, up in (("fibular head", c.fibular_head, True), ("malleolus", c.malleolus, False)):
            found = self._try(what, partial(find_tip, self.plate, at, points_up=up))
            if found is not None and math.dist(at, (found.x_px, found.y_px)) * self.mm > SNAP_REACH_MM:
                self.left.append(NotSnapped(what=what, why="an edge further off was found."))
                found = None
            tips.append(_clicked(at) if found is None else found.mark(column_mm=self.mm))
        return FibulaMarks(knee_line=knee[0], head=tips[0], plafond=ankle[0], malleolus=tips[1])


def _cut_edge(
    trace: ShaftTrace | None, cut: Point | None, way: tuple[float, float], *, last: bool
) -> Pair | None:
    """Both cortices of a fragment at its end: the walls nearest to it, carried along the nail to the end."""
    if trace is None or cut is None:
        return None
    walls = [trace.points_px(edge) for edge in trace.outer]
    if min(len(w) for w in walls) < 1:
        return None
    left, right = (w[-1] if last else w[0] for w in walls)
    middle = 0.5 * (left + right)
    along = np.array(way)
    carried = float((np.array(cut) - middle) @ along) * along
    a, b = (
        Mark(x_px=float(p[0]), y_px=float(p[1]), provenance=Provenance.SNAPPED)
        for p in (left + carried, right + carried)
    )
    return a, b


def _clicked(at: Point) -> Mark:
    return Mark(x_px=at[0], y_px=at[1], provenance=Provenance.CLICKED)


def _beside(at: Point, a: Point, b: Point) -> float:
    """Distance of a point from the line through two others. [px]"""
    along = _unit(a, b)
    return abs((at[0] - a[0]) * along[1] - (at[1] - a[1]) * along[0])


def _share(a: Point, b: Point, share: float) -> Point:
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def _direction_deg(upper: Point, lower: Point) -> float:
    """Direction from straight down, toward the viewer's right +. [deg]"""
    return math.degrees(math.atan2(lower[0] - upper[0], lower[1] - upper[1]))


def _toward(a: Point, b: Point, px: float) -> Point:
    length = math.dist(a, b)
    return a if length == 0 else _share(a, b, min(px / length, 0.9))


def _unit(a: Point, b: Point) -> tuple[float, float]:
    length = math.dist(a, b)
    return (0.0, 1.0) if length == 0 else ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
