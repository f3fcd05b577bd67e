"""Theatre distances: where everything of a bone plan is found under fluoroscopy.

Every level is given from both ends of the bone: the tibia from the plateau and from the plafond, the femur
from the tip of the greater trochanter and from the knee line. While the bone lengthens only the distance
within the same fragment stays true; each mark says which one that is.
"""

from dataclasses import dataclass

from limbwright.implant.nail import Direction, Hole, NailEnd
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.plan.decision import BlockingScrew, BonePlan, FibularFixation, Pin
from limbwright.plan.path import driving_fragment
from limbwright.quantity import Value, require_within

REFERENCES = {
    Bone.TIBIA: ("plateau", "plafond"),
    Bone.FEMUR: ("tip of the greater trochanter", "knee line"),
}
"""Proximal and distal reference of each bone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TheatreMark(Value):
    """One thing that is found under fluoroscopy, with the bone corrected and not yet lengthened."""

    what: str
    """What it is, in words."""
    bone: Bone
    """Bone it is measured on."""
    from_proximal_mm: float
    """Below the proximal reference, along the bone; negative = above it [mm]."""
    proximal_reference: str
    """Plateau, or tip of the greater trochanter."""
    from_distal_mm: float
    """Above the distal reference, along the bone; negative = below it [mm]."""
    distal_reference: str
    """Plafond, or knee line."""
    stays_true_from: str
    """The reference whose distance does not change while the bone lengthens."""
    offset_mm: float | None
    """Distance from the nail's centre line; None where that has no meaning [mm]."""
    offset_side: str
    """Side of the nail it lies on; empty without an offset."""
    size_mm: float | None
    """Diameter of screw, pin or nail; None for a cut [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelScale(Value):
    """Turns depths along the nail and levels below the joint line into distances from both references."""

    bone: Bone
    """Femur or tibia."""
    direction: Direction
    """Way the nail is driven."""
    osteotomy_depth_mm: float
    """Osteotomy along the nail from its driving end [mm]."""
    osteotomy_below_joint_mm: float
    """Osteotomy below the bone's proximal joint line (femur: head centre) [mm]."""
    bone_length_mm: float
    """Proximal joint line (femur: head centre) to distal joint line [mm]."""
    reference_below_joint_mm: float
    """Proximal reference below the proximal joint line: 0 for the tibia; for the femur the tip of the greater
    trochanter below the head centre, negative = above it [mm]."""

    def below_joint_mm(self, depth_mm: float) -> float:
        """Level of a depth along the nail. [mm]

        The nail runs nearly along the bone; a lean of 5 degrees over 200 mm makes less than 1 mm.
        """
        toward = 1.0 if self.direction is Direction.ANTEGRADE else -1.0
        return self.osteotomy_below_joint_mm + toward * (depth_mm - self.osteotomy_depth_mm)

    def mark(
        self,
        what: str,
        below_joint_mm: float,
        *,
        fragment: Fragment,
        offset_mm: float | None = None,
        offset_side: str = "",
        size_mm: float | None = None,
    ) -> TheatreMark:
        """A mark at a level below the joint line."""
        proximal, distal = REFERENCES[self.bone]
        return TheatreMark(
            what=what,
            bone=self.bone,
            from_proximal_mm=below_joint_mm - self.reference_below_joint_mm,
            proximal_reference=proximal,
            from_distal_mm=self.bone_length_mm - below_joint_mm,
            distal_reference=distal,
            stays_true_from=proximal if fragment is Fragment.PROXIMAL else distal,
            offset_mm=offset_mm,
            offset_side=offset_side,
            size_mm=size_mm,
        )


def level_scale(plan: BonePlan, *, trochanter_below_head_mm: float | None = None) -> LevelScale:
    """The scale of one bone plan.

    Parameters
    ----------
    plan : BonePlan
        Plan of one bone.
    trochanter_below_head_mm : float, optional
        Tip of the greater trochanter below the head centre, negative = above; femur only; taken level with
        the head centre (mLPFA 90) when absent. [mm]
    """
    cut = plan.osteotomy
    length = cut.below_joint_mm + cut.above_distal_joint_mm
    require_within(
        f"{plan.bone} length", length, 60, 700, "mm", next_step="Check both distances of the osteotomy."
    )
    return LevelScale(
        bone=plan.bone,
        direction=plan.direction,
        osteotomy_depth_mm=cut.depth_mm,
        osteotomy_below_joint_mm=cut.below_joint_mm,
        bone_length_mm=length,
        reference_below_joint_mm=0.0 if plan.bone is Bone.TIBIA else trochanter_below_head_mm or 0.0,
    )


def fragments(direction: Direction) -> tuple[Fragment, Fragment]:
    """Fragment at the nail's driving end, and the other one, which the thin part carries away."""
    driving = driving_fragment(direction)
    return driving, Fragment.DISTAL if driving is Fragment.PROXIMAL else Fragment.PROXIMAL


def theatre_marks(
    plan: BonePlan, *, trochanter_below_head_mm: float | None = None, malleolus_below_plafond_mm: float = 0.0
) -> tuple[TheatreMark, ...]:
    """Everything of one bone plan that is found under fluoroscopy, from proximal to distal.

    Parameters
    ----------
    plan : BonePlan
        Plan of one bone.
    trochanter_below_head_mm : float, optional
        See `level_scale`. [mm]
    malleolus_below_plafond_mm : float
        Tip of the lateral malleolus below the plafond, from which the fibular cut is counted. [mm]
    """
    scale = level_scale(plan, trochanter_below_head_mm=trochanter_below_head_mm)
    driving, far = fragments(plan.direction)
    nail = plan.nail
    marks = [
        scale.mark(
            "nail, entry end",
            scale.below_joint_mm(0.0),
            fragment=driving,
            size_mm=nail.thick_diameter_mm,
        ),
        scale.mark(f"osteotomy of the {plan.bone}", plan.osteotomy.below_joint_mm, fragment=driving),
        *_second(scale, plan),
        scale.mark(
            "end of the thick part",
            scale.below_joint_mm(nail.thick_length_mm),
            fragment=driving,
            size_mm=nail.thick_diameter_mm,
        ),
        scale.mark(
            "nail, tip", scale.below_joint_mm(nail.length_mm), fragment=far, size_mm=nail.thin_diameter_mm
        ),
        *(
            _blocking(scale, plan, screw, number)
            for number, screw in enumerate(plan.blocking_screws, start=1)
        ),
        *(_hole(scale, plan, hole) for hole in nail.holes),
        *(_pin(scale, pin) for pin in plan.pins),
    ]
    if plan.fibula is not None:
        marks += _fibula(scale, plan.fibula, malleolus_below_plafond_mm)
    return tuple(sorted(marks, key=lambda m: m.from_proximal_mm))


def _second(scale: LevelScale, plan: BonePlan) -> list[TheatreMark]:
    if plan.second is None or plan.middle_side is None:
        return []
    level = plan.second.osteotomy.below_joint_mm
    return [scale.mark(f"second osteotomy of the {plan.bone}", level, fragment=plan.middle_side)]


def _blocking(scale: LevelScale, plan: BonePlan, screw: BlockingScrew, number: int) -> TheatreMark:
    fragment = plan.fragment_beside(screw.fragment, screw.from_osteotomy_mm)
    return scale.mark(
        f"blocking screw {number}, {fragment} fragment, {screw.direction}",
        scale.below_joint_mm(screw.depth_mm),
        fragment=screw.fragment,
        offset_mm=screw.offset_mm,
        offset_side=screw.side.value,
        size_mm=screw.diameter_mm,
    )


def _hole(scale: LevelScale, plan: BonePlan, hole: Hole) -> TheatreMark:
    driving, far = fragments(plan.direction)
    return scale.mark(
        f"locking screw, {hole.end} end, {hole.direction}",
        scale.below_joint_mm(plan.nail.hole_depth_mm(hole)),
        fragment=driving if hole.end is NailEnd.THICK else far,
        offset_mm=0.0,
        offset_side="through the nail",
        size_mm=hole.screw_diameter_mm,
    )


def _pin(scale: LevelScale, pin: Pin) -> TheatreMark:
    return scale.mark(
        f"pin or marker: {pin.role}, {pin.nail_side}",
        pin.below_joint_mm,
        fragment=pin.fragment,
        size_mm=pin.diameter_mm,
    )


def _fibula(
    scale: LevelScale, fibula: FibularFixation, malleolus_below_plafond_mm: float
) -> list[TheatreMark]:
    cut = scale.bone_length_mm + malleolus_below_plafond_mm - fibula.osteotomy_above_ankle_mm
    return [
        scale.mark(
            "proximal tibiofibular screw",
            fibula.proximal_screw_below_plateau_mm,
            fragment=Fragment.PROXIMAL,
            size_mm=fibula.screw_diameter_mm,
        ),
        scale.mark(
            "osteotomy of the fibula",
            cut,
            fragment=Fragment.PROXIMAL if cut < scale.osteotomy_below_joint_mm else Fragment.DISTAL,
        ),
        scale.mark(
            "distal tibiofibular screw",
            scale.bone_length_mm - fibula.distal_screw_above_plafond_mm,
            fragment=Fragment.DISTAL,
            size_mm=fibula.screw_diameter_mm,
        ),
    ]
