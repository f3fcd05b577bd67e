"""Rough clicks on a follow-up film: what a reader points at before anything is snapped."""

from dataclasses import dataclass, fields

from limbwright.error import Missing, OutOfRange
from limbwright.film.film import ViewerSide
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import Value

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmClicks(Value):
    """Clicks on one film, column and row in pixels; only the nail's ends and step are always needed."""

    film: str
    """Name of the film."""
    bone: Bone
    """Femur or tibia."""
    projection: Projection
    """Plane shown."""
    across_to: ViewerSide
    """Where lateral (frontal) or anterior (sagittal) lies."""
    nail_thick_end: Point
    """Entry end of the nail."""
    nail_junction: Point
    """Where the thin part leaves the thick part."""
    nail_thin_end: Point
    """Far end of the thin part."""
    proximal_upper: Point | None = None
    """Proximal fragment: upper end of the straight stretch that tells its axis, in the middle of the bone."""
    cut_upper: Point | None = None
    """Lower end of the proximal fragment at the osteotomy, in the middle of the bone."""
    cut_lower: Point | None = None
    """Upper end of the distal fragment at the osteotomy."""
    distal_lower: Point | None = None
    """Distal fragment: lower end of the straight stretch that tells its axis."""
    knee_outer: Point | None = None
    """Knee line of this bone: lateral (frontal) or anterior end."""
    knee_inner: Point | None = None
    """Knee line: medial or posterior end."""
    ankle_outer: Point | None = None
    """Plafond: lateral or anterior end."""
    ankle_inner: Point | None = None
    """Plafond: medial or posterior end."""
    fibular_head: Point | None = None
    """Tip of the fibular head; frontal film."""
    malleolus: Point | None = None
    """Tip of the lateral malleolus; frontal film."""
    femoral_head: Point | None = None
    """Centre of the femoral head, when a frontal film of a femur shows it."""

    def __post_init__(self) -> None:
        for name, place in self.places().items():
            if not all(abs(v) < 1e6 for v in place):
                raise OutOfRange(
                    f"{name} at {place[0]:g}, {place[1]:g} px.", where=name, next_step="Click on the film."
                )
        cut = ("proximal_upper", "cut_upper", "cut_lower", "distal_lower")
        given = [name for name in cut if getattr(self, name) is not None]
        if given and len(given) < len(cut):
            raise Missing(
                f"of the fragments only {', '.join(given)} is marked.",
                where=f"film {self.film!r}",
                next_step=f"Mark {', '.join(n for n in cut if n not in given)} as well, or none of the four.",
            )

    def places(self) -> dict[str, Point]:
        """Every click that was made, by its name."""
        return {
            f.name: place
            for f in fields(self)
            if isinstance(place := getattr(self, f.name), tuple) and len(place) == 2
        }
