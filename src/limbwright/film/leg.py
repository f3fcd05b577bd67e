"""Films of one leg become views: scale applied, side resolved once, up made up.

This is the only place where pixels become millimetres of the limb plane frame. A film refuses marks that
cannot be true when it is built (`film.consistency`), so nothing is checked twice here.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.error import Missing
from limbwright.film.film import Film, FilmWall, Mark, Provenance, ViewerSide
from limbwright.film.scale import FilmScale, constant, scale_of
from limbwright.finding import Finding, Severity
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.patch import Placement, assembled
from limbwright.limb.view import Spot, Surface, View, Wall
from limbwright.published import COMMON_PRACTICE, Source, Status, table
from limbwright.quantity import Value

_CENTRES = frozenset(landmark for landmark in Landmark if landmark.endswith("centre"))
_TIPS = frozenset(
    {
        Landmark.GREATER_TROCHANTER_TIP,
        Landmark.TIBIAL_TUBEROSITY,
        Landmark.FIBULAR_HEAD_TIP,
        Landmark.LATERAL_MALLEOLUS_TIP,
    }
)
_SHAFTS = frozenset(landmark for landmark in Landmark if "_shaft_" in landmark)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingError(Value):
    """Standard uncertainty of a marked coordinate, for marks that do not state their own."""

    centre_mm: float
    """Centres of head, neck, knee and ankle [mm]."""
    joint_line_mm: float
    """Ends of a joint line [mm]."""
    shaft_mm: float
    """Mid-diaphyseal points [mm]."""
    tip_mm: float
    """Tips of trochanter, tuberosity, fibula and malleolus [mm]."""

    def of(self, landmark: Landmark) -> float:
        """Standard uncertainty of each coordinate of a landmark [mm]."""
        if landmark in _CENTRES:
            return self.centre_mm
        if landmark in _SHAFTS:
            return self.shaft_mm
        return self.tip_mm if landmark in _TIPS else self.joint_line_mm


def usual_reading_error() -> ReadingError:
    """The default reading errors, from the table with their sources."""
    sd_mm = {row.text("kind"): row.number("sd_mm") for row in table("film", "reading_error")}
    return ReadingError(
        centre_mm=sd_mm["centre"],
        joint_line_mm=sd_mm["joint line end"],
        shaft_mm=sd_mm["shaft"],
        tip_mm=sd_mm["tip"],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated(Value):
    """What a film's header says about side and projection, where it says it unmistakably."""

    laterality: Side | None = None
    """Side shown; absent for both legs or when not stated."""
    projection: Projection | None = None
    """Projection; absent when not stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmFrame(Value):
    """How pixels of one film map to the limb plane frame of one leg."""

    film: str
    """Name of the film."""
    across_per_column_mm: float
    """Across + per pixel to the viewer's right; negative when across + is at the viewer's left [mm]."""
    proximal_per_row_mm: float
    """Proximal + per pixel down; negative [mm]."""
    placement: Placement | None = None
    """Where the film came to lie when it was joined onto another one."""

    def limb_point(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Across and proximal coordinate of a pixel [mm]."""
        point = x_px * self.across_per_column_mm, y_px * self.proximal_per_row_mm
        return point if self.placement is None else self.placement.point(*point)

    def film_point(self, across_mm: float, proximal_mm: float) -> tuple[float, float]:
        """The pixel of a point of the limb plane frame [px]."""
        point = across_mm, proximal_mm
        across, proximal = point if self.placement is None else self.placement.film_point(*point)
        return across / self.across_per_column_mm, proximal / self.proximal_per_row_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class LegViews(Value):
    """One leg as its films show it."""

    side: Side
    """Side of the body."""
    frontal: View | None
    """From all frontal films; absent when none shows this leg."""
    sagittal: View | None
    """From all sagittal films; absent when none shows this leg."""
    frames: tuple[FilmFrame, ...]
    """How each film maps to its view; one without scale maps to pixels."""
    scales: Mapping[str, FilmScale]
    """Scale of each film, by its name."""
    findings: tuple[Finding, ...]
    """About scale, joining of films, and headers that contradict."""

    def need(self, projection: Projection) -> View:
        """The view in one projection, or a plain error that there is none."""
        view = self.frontal if projection is Projection.FRONTAL else self.sagittal
        if view is None:
            raise Missing(
                f"no {projection} film shows the {self.side} leg.",
                where=f"{self.side} leg",
                next_step="Add one and mark its landmarks.",
            )
        return view


def views_of(
    films: tuple[Film, ...],
    side: Side,
    *,
    stated: Mapping[str, Stated] | None = None,
    reading_error: ReadingError | None = None,
) -> LegViews:
    """One leg in both projections, from all films that show it.

    Parameters
    ----------
    films : tuple of Film
        All films of one date; those without landmarks or walls of this leg are passed over.
    side : Side
        The leg wanted.
    stated : mapping, optional
        What the headers say, by film name; a contradiction is a `stop` finding.
    reading_error : ReadingError, optional
        Uncertainty of marks that do not state their own; `usual_reading_error()` unless given.

    Returns
    -------
    LegViews
        Several films of one projection are laid over each other by the landmarks they share (`limb.patch`).
        On a film without scale one unit is one pixel's width.
    """
    reading_error = usual_reading_error() if reading_error is None else reading_error
    findings: list[Finding] = []
    scales: dict[str, FilmScale] = {}
    frames: list[FilmFrame] = []
    views: dict[Projection, View | None] = {}
    for projection in Projection:
        showing = [f for f in films if f.projection is projection and _shows(f, side)]
        single = []
        for film in showing:
            scales[film.name] = scale_of(film.scale, where=film.name)
            findings.extend(scales[film.name].findings)
            findings.extend(_contradictions(film, side, (stated or {}).get(film.name, Stated())))
            findings.extend(_canal_from_the_side(film, side))
            single.append(view_of(film, side, scales[film.name], reading_error=reading_error))
        if not single:
            views[projection] = None
            continue
        assembly = assembled(tuple(single))
        views[projection] = assembly.view
        findings.extend(assembly.findings)
        placed = {p.patch: p for p in assembly.placements}
        frames.extend(film_frame(f, side, scales[f.name], placement=placed.get(f.name)) for f in showing)
    return LegViews(
        side=side,
        frontal=views[Projection.FRONTAL],
        sagittal=views[Projection.SAGITTAL],
        frames=tuple(frames),
        scales=scales,
        findings=tuple(findings),
    )


def film_frame(film: Film, side: Side, scale: FilmScale, *, placement: Placement | None = None) -> FilmFrame:
    """How pixels of a film map to the limb plane frame of one leg.

    Without scale one unit is one pixel's width, and rows are stretched to it so that angles stay right.
    """
    if film.projection is Projection.FRONTAL:
        # Lateral of the right leg points to where the right side of the patient appears.
        right_at_viewer_right = film.right_side_at is ViewerSide.VIEWER_RIGHT
        toward_viewer_right = right_at_viewer_right == (side is Side.RIGHT)
    else:
        toward_viewer_right = film.anterior_at is ViewerSide.VIEWER_RIGHT
    column = 1.0 if scale.scale is None else scale.scale.column_mm
    row = scale.height_over_width if scale.scale is None else scale.scale.row_mm
    # Film y runs down, the limb's proximal axis runs up: turned over here and nowhere else.
    return FilmFrame(
        film=film.name,
        across_per_column_mm=column if toward_viewer_right else -column,
        proximal_per_row_mm=-row,
        placement=placement,
    )


def view_of(film: Film, side: Side, scale: FilmScale, *, reading_error: ReadingError) -> View:
    """One leg as one film shows it."""
    frame = film_frame(film, side, scale)
    unit_mm = abs(frame.across_per_column_mm)
    if scale.scale is None:
        usual_mm = constant("detector spacing where the header has none").number("value")
        unit_per_mm = 1.0 / (scale.detector_mm or usual_mm)
    else:
        unit_per_mm = 1.0

    def spot(landmark: Landmark, mark: Mark) -> Spot:
        across, proximal = frame.limb_point(mark.x_px, mark.y_px)
        sd = reading_error.of(landmark) * unit_per_mm if mark.sd_px is None else mark.sd_px * unit_mm
        return Spot(across_mm=across, proximal_mm=proximal, sd_mm=sd, patch=film.name)

    return View(
        side=side,
        projection=film.projection,
        spots={landmark: spot(landmark, mark) for landmark, mark in film.marks(side).items()},
        walls=tuple(_wall(wall, frame, unit_mm) for wall in film.walls if wall.side is side),
        scaled=scale.scale is not None,
        scale_relative_sd=0.0 if scale.scale is None else scale.scale.relative_sd,
    )


def _wall(wall: FilmWall, frame: FilmFrame, unit_mm: float) -> Wall:
    points = [frame.limb_point(x, y) for x, y in zip(wall.x_px, wall.y_px, strict=True)]
    return Wall(
        bone=wall.bone,
        surface=wall.surface,
        border=wall.border,
        across_mm=tuple(p[0] for p in points),
        proximal_mm=tuple(p[1] for p in points),
        sd_mm=wall.sd_px * unit_mm,
    )


def _shows(film: Film, side: Side) -> bool:
    return bool(film.marks(side)) or any(wall.side is side for wall in film.walls)


def _canal_from_the_side(film: Film, side: Side) -> list[Finding]:
    """A canal of the tibia that was traced from the side and that no reader has put right."""
    traced = any(
        (w.side, w.bone, w.surface, w.provenance) == (side, Bone.TIBIA, Surface.INNER, Provenance.SNAPPED)
        for w in film.walls
    )
    if film.projection is not Projection.SAGITTAL or not traced:
        return []
    return [
        Finding(
            id="tibial-canal-from-the-side",
            severity=Severity.CAUTION,
            words=f"Film '{film.name}': the canal of the {side} tibia was traced from the side, where the "
            "fibula lies over it; the fibula's wall can be taken for the canal's, by several millimetres.",
            next_step="Compare both inner walls with the film over their whole length; pull what is wrong to "
            "where the film shows it, which pins it.",
            rule="On phantom films the canal from the side is often read wrong beyond its stated "
            "uncertainty: docs/accuracy.md.",
            source=Source(text="own phantom films with known truth", status=Status.DERIVED),
        )
    ]


def _contradictions(film: Film, side: Side, stated: Stated) -> list[Finding]:
    """Where the header says another side or projection than the case."""
    found = []
    if stated.laterality not in (None, side):
        found.append(
            Finding(
                id="header-side-contradicts",
                severity=Severity.STOP,
                words=(
                    f"Film '{film.name}': the header says {stated.laterality}, but landmarks of the {side} "
                    "leg are marked on it."
                ),
                next_step="Check which leg the film shows, and correct the header or the case.",
                rule="Side in the header and side in the case must agree.",
                source=COMMON_PRACTICE,
            )
        )
    if stated.projection not in (None, film.projection):
        found.append(
            Finding(
                id="header-projection-contradicts",
                severity=Severity.STOP,
                words=(
                    f"Film '{film.name}': the header says {stated.projection}, but the case keeps it as a "
                    f"{film.projection} film."
                ),
                next_step="Check which projection the film shows, and correct the header or the case.",
                rule="Projection in the header and projection in the case must agree.",
                source=COMMON_PRACTICE,
            )
        )
    return found
