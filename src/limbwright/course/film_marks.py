"""What is marked on a follow-up film of a lengthened bone.

Film frame: pixels, x to the viewer's right, y down. The side is resolved here once, by `across_to`: where
lateral (frontal film) or anterior (sagittal film) lies for the viewer.
"""

from dataclasses import dataclass

from limbwright.error import Contradiction
from limbwright.film.film import Mark, ViewerSide
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import Value

Pair = tuple[Mark, Mark]


@dataclass(frozen=True, slots=True, kw_only=True)
class FibulaMarks(Value):
    """Four points that tell how the fibula stands to the tibia on a frontal film."""

    knee_line: Mark
    """Lateral end of the tibial knee line."""
    head: Mark
    """Tip of the fibular head."""
    plafond: Mark
    """Lateral end of the plafond."""
    malleolus: Mark
    """Tip of the lateral malleolus."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowUpMarks(Value):
    """Marks of one bone on one follow-up film; what is absent is not computed."""

    film: str
    """Name of the film."""
    bone: Bone
    """Femur or tibia."""
    projection: Projection
    """Plane shown."""
    across_to: ViewerSide
    """Where lateral (frontal) or anterior (sagittal) lies."""
    nail_edges: tuple[Pair, ...]
    """Both edges of the nail's thick part, opposite each other; one pair or more, the scale of the film."""
    nail_thick_end: Mark | None = None
    """Entry end of the nail, on its axis."""
    nail_junction: Mark | None = None
    """Where the thin part leaves the thick part, on the axis."""
    nail_thin_end: Mark | None = None
    """Far end of the thin part, on the axis."""
    proximal_edge: Pair | None = None
    """Osteotomy edge of the proximal fragment: its two cortices."""
    distal_edge: Pair | None = None
    """Osteotomy edge of the distal fragment: its two cortices."""
    proximal_axis: Pair | None = None
    """Axis of the proximal fragment: upper point, lower point."""
    distal_axis: Pair | None = None
    """Axis of the distal fragment: upper point, lower point."""
    fibula: FibulaMarks | None = None
    """Fibula against tibia; frontal film of a tibia."""
    knee_line: Pair | None = None
    """Both ends of this bone's knee joint line, in any order."""
    ankle_line: Pair | None = None
    """Both ends of the plafond, in any order; tibia."""
    femoral_head: Mark | None = None
    """Centre of the femoral head; frontal film of a femur that shows it."""

    def __post_init__(self) -> None:
        for name, pair in (
            *((f"nail_edges[{i}]", pair) for i, pair in enumerate(self.nail_edges)),
            ("proximal_edge", self.proximal_edge),
            ("distal_edge", self.distal_edge),
            ("proximal_axis", self.proximal_axis),
            ("distal_axis", self.distal_axis),
            ("knee_line", self.knee_line),
            ("ankle_line", self.ankle_line),
        ):
            if pair is not None and (pair[0].x_px, pair[0].y_px) == (pair[1].x_px, pair[1].y_px):
                raise Contradiction(
                    f"both points of {name} lie at {pair[0].x_px:g}, {pair[0].y_px:g} px.",
                    where=name,
                    next_step="Mark two different points.",
                )
        for name, pair in (("proximal_axis", self.proximal_axis), ("distal_axis", self.distal_axis)):
            if pair is not None and pair[0].y_px >= pair[1].y_px:
                raise Contradiction(
                    f"the upper point of {name} lies below its lower point.",
                    where=name,
                    next_step="Mark the upper point first; the film must show the knee above the ankle.",
                )
        if self.fibula is not None and (
            self.bone is not Bone.TIBIA or self.projection is not Projection.FRONTAL
        ):
            raise Contradiction(
                f"the fibula is marked on a {self.projection} film of the {self.bone}.",
                where="fibula",
                next_step="Mark it on the frontal film of the tibia.",
            )
        wrong_bone = Bone.FEMUR if self.ankle_line is not None else Bone.TIBIA
        if self.bone is wrong_bone and (self.ankle_line is not None or self.femoral_head is not None):
            raise Contradiction(
                f"{'the plafond' if self.ankle_line is not None else 'the femoral head'} is marked for the "
                f"{self.bone}.",
                where="ankle_line" if self.ankle_line is not None else "femoral_head",
                next_step="Mark the plafond for a tibia, the femoral head for a femur.",
            )
