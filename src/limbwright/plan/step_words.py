"""Words of the steps in theatre, made from the numbers of a bone plan."""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.implant.nail import Direction, NailEnd
from limbwright.limb.anatomy import Fragment
from limbwright.plan.decision import (
    BlockingScrew,
    BonePlan,
    FibularFixation,
    MiddleHold,
    Osteotomy,
    Pin,
    SecondOsteotomy,
)
from limbwright.plan.motion import turned_deg
from limbwright.plan.reduction import Reduction, reductions_of
from limbwright.plan.theatre import LevelScale, fragments
from limbwright.published import table
from limbwright.quantity import (
    EXTERNAL_INTERNAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Sense,
    Value,
    directed,
)

# Below these a reduction cannot be seen on a film and counts as none.
SEEN_FROM_DEG = 0.5
SEEN_FROM_MM = 0.5
# A smaller turn between two markers is not seen; it is what turning in two other planes leaves over.
TURN_SEEN_FROM_DEG = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction(Value):
    """What is done at one osteotomy to the part below it, between cut and nail."""

    lengthens: bool
    """False at a second osteotomy, which is only corrected."""
    frontal: Directed
    """Deformity taken out in the frontal plane: varus or valgus [deg]."""
    sagittal: Directed
    """Deformity taken out in the sagittal plane: procurvatum or recurvatum [deg]."""
    rotation: Directed
    """Turn given to the part below: external or internal [deg]."""
    turn_deg: float
    """Whole turn of the part below [deg]."""
    shift_mm: float
    """Shift of the bone ends against each other at the osteotomy [mm]."""

    @property
    def needed(self) -> bool:
        """Whether anything that can be seen is corrected."""
        return self.turn_deg >= SEEN_FROM_DEG or self.shift_mm >= SEEN_FROM_MM


def corrections_of(plan: BonePlan) -> tuple[Correction, ...]:
    """The corrections that a plan's nail lines and rotations define, one for each osteotomy, proximal first.

    Angles are those between the two lines beside a cut, as films show them before the part below is rotated.
    """
    second = plan.second
    unturned = replace(
        plan,
        rotation_correction_deg=0.0,
        second=None if second is None else replace(second, rotation_correction_deg=0.0),
    )
    return tuple(
        _correction(plan, whole, lines)
        for whole, lines in zip(reductions_of(plan), reductions_of(unturned), strict=True)
    )


def _correction(plan: BonePlan, whole: Reduction, lines: Reduction) -> Correction:
    varus, procurvatum, _ = (float(angle) for angle in turned_deg(lines.motion.matrix()))
    centre = np.array(whole.cut.point_mm)
    rotation = plan.rotation_correction_deg
    if not whole.lengthens and plan.second is not None:
        rotation = plan.second.rotation_correction_deg
    return Correction(
        lengthens=whole.lengthens,
        # A fragment turned toward varus takes out valgus, and so on.
        frontal=directed(-varus, unit="deg", senses=VARUS_VALGUS),
        sagittal=directed(-procurvatum, unit="deg", senses=PROCURVATUM_RECURVATUM),
        rotation=directed(rotation, unit="deg", senses=EXTERNAL_INTERNAL),
        turn_deg=whole.motion.angle_deg(),
        shift_mm=float(np.linalg.norm(whole.motion.moved(centre) - centre)),
    )


def level_words(scale: LevelScale, below_joint_mm: float) -> str:
    """A level as it is found under fluoroscopy, from both ends of the bone."""
    mark = scale.mark("", below_joint_mm, fragment=fragments(scale.direction)[0])
    return (
        f"{mark.from_proximal_mm:.0f} mm below the {mark.proximal_reference}, {mark.from_distal_mm:.0f} mm "
        f"above the {mark.distal_reference}"
    )


def position_words(plan: BonePlan) -> str:
    """Position of the leg, with the knee as the approach wants it."""
    row = next(r for r in table("plan", "approaches") if r.text("approach") == plan.approach)
    low, high = row.number("flexion_from_deg"), row.number("flexion_to_deg")
    knee = f", knee at {low:g} to {high:g} degrees of flexion" if high else ""
    return (
        f"Position for the approach '{plan.approach}'{knee}: {row.text('knee_position')}. Check side, and "
        "true films of both planes with the fluoroscope."
    )


def entry_words(plan: BonePlan) -> str:
    """Entry point and guide wire of the driving fragment."""
    row = next(r for r in table("plan", "approaches") if r.text("approach") == plan.approach)
    return (
        f"Open the {plan.bone} at the entry: {row.text('entry')}. Guide wire along the planned line of the "
        f"{fragments(plan.direction)[0]} fragment, checked in both planes."
    )


def blocking_words(plan: BonePlan, scale: LevelScale, screw: BlockingScrew, number: int) -> str:
    """One blocking screw: drill, place, side, level and offset."""
    level = level_words(scale, scale.below_joint_mm(screw.depth_mm))
    fragment = plan.fragment_beside(screw.fragment, screw.from_osteotomy_mm)
    return (
        f"Blocking screw {number}: drill {screw.drill_mm:g} mm {screw.direction} in the {fragment} "
        f"fragment and set a {screw.diameter_mm:g} mm screw, {screw.side} to the nail, axis "
        f"{screw.offset_mm:.1f} mm from the nail's centre line, {screw.from_osteotomy_mm:.0f} mm from the "
        f"osteotomy ({level})."
    )


def pin_words(scale: LevelScale, pin: Pin) -> str:
    """One pin or marker: what it does, where it passes, its level and clearance."""
    free = "from the tip" if "tip" in pin.nail_side else "from the reamed path"
    return (
        f"Pin ({pin.role}): {pin.diameter_mm:g} mm in the {pin.fragment} fragment, {pin.nail_side}, "
        f"{level_words(scale, pin.below_joint_mm)}, {pin.clearance_mm:.0f} mm {free}."
    )


def rotation_words(rotation_correction_deg: float) -> str:
    """The angle between the two rotation markers."""
    turn = directed(rotation_correction_deg, unit="deg", senses=EXTERNAL_INTERNAL)
    if turn.magnitude < TURN_SEEN_FROM_DEG:
        return " Set it parallel to the other marker: rotation is kept."
    back = {Sense.EXTERNAL: Sense.INTERNAL, Sense.INTERNAL: Sense.EXTERNAL}[turn.direction]
    return (
        f" Set it {turn.magnitude:.0f} degrees {back} to the other marker: they are parallel when the "
        f"distal fragment has been turned {turn.direction} by that much."
    )


def ream_words(plan: BonePlan, *, whole: bool) -> str:
    """Reaming before the cut: the whole canal, or the driving fragment only."""
    driving, _ = fragments(plan.direction)
    way = "up" if plan.direction is Direction.RETROGRADE else "down"
    to = "the whole canal" if whole else f"the {driving} fragment {way} to the osteotomy"
    beside = blocking_beside_reamer_words(plan, fragment=None if whole else driving)
    return f"Ream {to} in steps up to {plan.reamer_mm:g} mm{beside}."


def blocking_beside_reamer_words(plan: BonePlan, *, fragment: Fragment | None) -> str:
    """What to do where the reamer is wider than the way that blocking screws leave; empty where it is not.

    A screw that is to touch the nail stands in the way of a reamer wider than the nail.
    """
    touched = [
        (number, 2 * screw.offset_mm - screw.diameter_mm)
        for number, screw in enumerate(plan.blocking_screws, start=1)
        if fragment in {None, screw.fragment} and 2 * screw.offset_mm - screw.diameter_mm < plan.reamer_mm
    ]
    if not touched:
        return ""
    widest = min(free for _, free in touched)
    many = len(touched) > 1
    which = " and ".join(str(number) for number, _ in touched)
    return (
        f"; above {widest:.1f} mm the reamer touches blocking screw{'s' if many else ''} {which}: back "
        f"{'them' if many else 'it'} out to the near cortex for those reamers and set "
        f"{'them' if many else 'it'} again before the nail"
    )


def correction_words(correction: Correction, *, at: str = "", below: str = "distal fragment") -> str:
    """What is corrected, in words; `at` names the osteotomy where there are two."""
    parts = [
        f"take out {angle.magnitude:.1f} degrees of {angle.direction}"
        for angle in (correction.frontal, correction.sagittal)
        if angle.magnitude >= SEEN_FROM_DEG
    ]
    if correction.rotation.magnitude >= TURN_SEEN_FROM_DEG:
        turn = correction.rotation
        parts.append(f"turn the {below} {turn.direction} by {turn.magnitude:.0f} degrees")
    if correction.shift_mm >= SEEN_FROM_MM:
        parts.append(f"the bone ends shift by {correction.shift_mm:.1f} mm at the osteotomy")
    return f"Correct{at}: {'; '.join(parts)}."


def guide_wire_words(plan: BonePlan) -> str:
    """Guide wire through the corrected bone."""
    _, far = fragments(plan.direction)
    screws = " and on the right side of every blocking screw" if plan.blocking_screws else ""
    return f"Pass the guide wire into the {far} fragment, on the planned line in both planes{screws}."


def ream_corrected_words(plan: BonePlan) -> str:
    """Reaming through the corrected and held bone."""
    _, far = fragments(plan.direction)
    beside = blocking_beside_reamer_words(plan, fragment=far)
    return (
        f"Ream the {far} fragment in steps up to {plan.reamer_mm:g} mm with the correction held, so that "
        f"the canal is made in the corrected position{beside}."
    )


def nail_words(plan: BonePlan, scale: LevelScale) -> str:
    """The nail and where its ends come to lie."""
    nail = plan.nail
    tip = scale.mark("", scale.below_joint_mm(nail.length_mm), fragment=fragments(plan.direction)[1])
    from_joint, joint = (
        (tip.from_distal_mm, f"above the {tip.distal_reference}")
        if plan.direction is Direction.ANTEGRADE
        else (tip.from_proximal_mm, f"below the {tip.proximal_reference}")
    )
    inside = nail.thick_length_mm - plan.osteotomy.depth_mm
    return (
        f"Insert nail '{nail.name}', {nail.thick_diameter_mm:g} mm, {nail.length_mm:g} mm long: tip "
        f"{from_joint:.0f} mm {joint}; {inside:.0f} mm of the thick part pass the osteotomy, "
        f"{inside - plan.lengthening_mm:.0f} mm are left at full length."
    )


def locking_words(plan: BonePlan, scale: LevelScale) -> str:
    """Locking screws of both fragments with their levels."""
    if not plan.nail.holes:
        return "Lock both fragments; the catalogue lists no holes for this nail, so follow its own guide."
    driving, far = fragments(plan.direction)
    parts = []
    for hole in plan.nail.holes:
        side = driving if hole.end is NailEnd.THICK else far
        depth = plan.nail.hole_depth_mm(hole)
        fragment = plan.fragment_beside(side, abs(depth - plan.osteotomy.depth_mm))
        level = level_words(scale, scale.below_joint_mm(depth))
        parts.append(f"{fragment} {hole.screw_diameter_mm:g} mm {hole.direction} ({level})")
    return f"Lock {'both' if plan.second is None else 'the'} fragments: {'; '.join(parts)}."


def cut_words(scale: LevelScale, cut: Osteotomy, *, second: bool) -> str:
    """One of two osteotomies, completed."""
    name = "second osteotomy, which is only corrected" if second else "osteotomy that is lengthened"
    return f"Complete the {name}, {level_words(scale, cut.below_joint_mm)}."


def ream_on_words(plan: BonePlan, fragment: Fragment) -> str:
    """Reaming one more fragment of a bone that is cut twice, with the correction before it held."""
    side = plan.middle_side if fragment is Fragment.MIDDLE else fragment
    beside = blocking_beside_reamer_words(plan, fragment=side)
    return (
        f"Pass the guide wire into the {fragment} fragment on the planned line in both planes and ream it in "
        f"steps up to {plan.reamer_mm:g} mm with the correction held{beside}."
    )


def hold_second_words(plan: BonePlan, second: SecondOsteotomy) -> str:
    """How the second osteotomy is fixed before the nail lengthens."""
    side = plan.middle_side
    if second.hold is MiddleHold.LOCKED:
        return (
            f"The middle fragment is locked to the nail; close the second osteotomy and check that it is "
            f"held against the {side} fragment before the nail is lengthened."
        )
    return (
        f"Fix the second osteotomy, closed, with a plate beside the nail from the middle to the {side} "
        "fragment, its screws clear of the nail: the nail alone would let this gap open instead of the one "
        "that is lengthened."
    )


def fibular_screw_words(fibula: FibularFixation, *, proximal: bool, course: str) -> str:
    """One tibiofibular screw with level, size, cortices and course."""
    where = (
        f"{fibula.proximal_screw_below_plateau_mm:.0f} mm below the plateau"
        if proximal
        else f"{fibula.distal_screw_above_plafond_mm:.0f} mm above the plafond"
    )
    end = "Proximal" if proximal else "Distal"
    words = (
        f"{end} tibiofibular screw {where}: solid, {fibula.screw_diameter_mm:g} mm, through "
        f"{fibula.cortices} cortices, oblique"
    )
    return f"{words}; {course}." if course else f"{words}."
