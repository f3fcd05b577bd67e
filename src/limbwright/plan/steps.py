"""Order of steps in theatre, assembled from the plan: only what applies, each with its numbers."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Missing
from limbwright.finding import Number
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.plan.decision import BonePlan, PinRole, SecondOsteotomy
from limbwright.plan.goal import Staging
from limbwright.plan.step_words import (
    blocking_words,
    correction_words,
    corrections_of,
    cut_words,
    entry_words,
    fibular_screw_words,
    guide_wire_words,
    hold_second_words,
    level_words,
    locking_words,
    nail_words,
    pin_words,
    position_words,
    ream_corrected_words,
    ream_on_words,
    ream_words,
    rotation_words,
)
from limbwright.plan.theatre import LevelScale, fragments, level_scale
from limbwright.quantity import Value

HOLDING = frozenset({PinRole.HOLD_PROXIMAL, PinRole.HOLD_DISTAL})


class StepName(StrEnum):
    """Steps by name, in the order in which they are taken on one bone."""

    POSITION = "position and films"
    BLOCKING_SCREW = "blocking screw"
    PIN = "fixator pin"
    ROTATION_MARKER = "rotation marker"
    FIBULAR_OSTEOTOMY = "fibular osteotomy"
    DRILL_HOLES = "drill holes at the osteotomy"
    ENTRY = "entry"
    REAM_DRIVING_FRAGMENT = "ream to the osteotomy"
    REAM = "ream"
    OSTEOTOMY = "osteotomy"
    CORRECT = "correct"
    HOLD = "hold"
    GUIDE_WIRE = "guide wire"
    REAM_CORRECTED = "ream in the corrected position"
    NAIL = "nail"
    LOCKING = "locking screws"
    SECOND_OSTEOTOMY = "second osteotomy"
    FIX_SECOND = "fix the second osteotomy"
    FIBULAR_SCREW = "tibiofibular screw"
    CALF_RELEASE = "calf release"
    REMOVE_PINS = "remove pins"
    FINAL_FILMS = "final films"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step(Value):
    """One step of the checklist."""

    operation: int
    """Operation it belongs to, from 1; more than one when bones are staged."""
    bone: Bone
    """Bone it is done on."""
    name: StepName
    """Which step."""
    words: str
    """What to do, with its numbers."""
    numbers: tuple[Number, ...] = ()
    """The numbers in the words."""


def operation_steps(
    plans: tuple[BonePlan, ...],
    *,
    staging: Staging | None,
    trochanter_below_head_mm: float | None = None,
    fibular_courses: tuple[str, str] = ("", ""),
) -> tuple[Step, ...]:
    """Ordered checklist for a plan.

    Parameters
    ----------
    plans : tuple of BonePlan
        Bones in the order of treatment.
    staging : Staging or None
        Staged bones get an operation each.
    trochanter_below_head_mm : float, optional
        See `theatre.level_scale`. [mm]
    fibular_courses : tuple of str
        Courses of the proximal and the distal tibiofibular screw (`fibula.FibularPlan`).

    Raises
    ------
    Missing
        If there is no bone to operate on.

    Notes
    -----
    With a correction, the fragment at the driving end is reamed first, the bone is cut, corrected and held,
    and only then reamed through, so that the canal itself keeps the correction. Without one, the canal is
    reamed whole before the cut.
    """
    if not plans:
        raise Missing(
            "the plan has no bone.",
            where="order of steps",
            next_step="Plan at least one bone before asking for its steps.",
        )
    steps: list[Step] = []
    for index, plan in enumerate(plans):
        operation = index + 1 if staging is Staging.STAGED else 1
        scale = level_scale(plan, trochanter_below_head_mm=trochanter_below_head_mm)
        steps += _bone_steps(plan, operation, scale, fibular_courses)
    return tuple(steps)


def checklist(steps: tuple[Step, ...]) -> tuple[str, ...]:
    """The steps as numbered lines; the bone is named where there is more than one, the operation likewise."""
    bones = {step.bone for step in steps}
    operations = {step.operation for step in steps}
    lines = []
    for number, step in enumerate(steps, start=1):
        before = f"operation {step.operation}, " if len(operations) > 1 else ""
        before += f"{step.bone}: " if len(bones) > 1 else ""
        lines.append(f"{number}. {before}{step.words}" if before else f"{number}. {step.words}")
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class _Bench:
    """Makes the steps of one bone in one operation."""

    operation: int
    bone: Bone

    def step(self, name: StepName, words: str, *numbers: tuple[str, float, str]) -> Step:
        return Step(
            operation=self.operation,
            bone=self.bone,
            name=name,
            words=words,
            numbers=tuple(Number(name=n, value=v, unit=u) for n, v, u in numbers),
        )


def _bone_steps(
    plan: BonePlan, operation: int, scale: LevelScale, courses: tuple[str, str]
) -> tuple[Step, ...]:
    bench = _Bench(operation, plan.bone)
    return (
        bench.step(StepName.POSITION, position_words(plan)),
        *_blocking_steps(bench, plan, scale),
        *_pin_steps(bench, plan, scale),
        *_fibular_osteotomy(bench, plan),
        *_osteotomy_steps(bench, plan, scale),
        bench.step(StepName.NAIL, nail_words(plan, scale), ("nail length", plan.nail.length_mm, "mm")),
        bench.step(StepName.LOCKING, locking_words(plan, scale)),
        *_second_fixation(bench, plan),
        *_fibular_screws(bench, plan, courses),
        *_closing_steps(bench, plan),
    )


def _blocking_steps(bench: _Bench, plan: BonePlan, scale: LevelScale) -> list[Step]:
    return [
        bench.step(
            StepName.BLOCKING_SCREW,
            blocking_words(plan, scale, screw, number),
            ("drill", screw.drill_mm, "mm"),
            ("screw", screw.diameter_mm, "mm"),
            ("offset from the nail's centre line", screw.offset_mm, "mm"),
            ("distance from the osteotomy", screw.from_osteotomy_mm, "mm"),
        )
        for number, screw in enumerate(plan.blocking_screws, start=1)
    ]


def _pin_steps(bench: _Bench, plan: BonePlan, scale: LevelScale) -> list[Step]:
    """Pins first, then the rotation markers; the second marker is set at the angle to be corrected."""
    holding = [pin for pin in plan.pins if pin.role in HOLDING]
    markers = [pin for pin in plan.pins if pin.role not in HOLDING]
    # Markers stand in the proximal and the distal fragment, so they show what both osteotomies turn.
    turn = plan.rotation_correction_deg
    turn += 0.0 if plan.second is None else plan.second.rotation_correction_deg
    steps = []
    for name, pins in ((StepName.PIN, holding), (StepName.ROTATION_MARKER, markers)):
        for pin in pins:
            marks = name is StepName.ROTATION_MARKER and pin is markers[-1] and len(markers) > 1
            steps.append(
                bench.step(
                    name,
                    pin_words(scale, pin) + (rotation_words(turn) if marks else ""),
                    ("pin", pin.diameter_mm, "mm"),
                    ("clearance to the reamed path or the tip", pin.clearance_mm, "mm"),
                )
            )
    return steps


def _fibular_osteotomy(bench: _Bench, plan: BonePlan) -> list[Step]:
    if plan.fibula is None:
        return []
    above = plan.fibula.osteotomy_above_ankle_mm
    return [
        bench.step(
            StepName.FIBULAR_OSTEOTOMY,
            f"Cut the fibula {above:.0f} mm above the tip of the lateral malleolus.",
            ("above the tip of the malleolus", above, "mm"),
        )
    ]


def _osteotomy_steps(bench: _Bench, plan: BonePlan, scale: LevelScale) -> list[Step]:
    """From the drill holes to the reamed canal, in the order that the correction asks for."""
    if plan.second is not None:
        return _two_level_steps(bench, plan, scale, plan.second)
    (correction,) = corrections_of(plan)
    level = level_words(scale, plan.osteotomy.below_joint_mm)
    reamer = ("largest reamer", plan.reamer_mm, "mm")
    depth = ("osteotomy below the joint line", plan.osteotomy.below_joint_mm, "mm")
    holes = bench.step(
        StepName.DRILL_HOLES,
        f"Drill holes across the {plan.bone} at the osteotomy, {level}: they vent the canal while it is "
        "reamed and weaken the cortex.",
        depth,
    )
    entry = bench.step(StepName.ENTRY, entry_words(plan))
    held = any(pin.role in HOLDING for pin in plan.pins)
    cut = bench.step(StepName.OSTEOTOMY, f"Complete the osteotomy, {level}.", depth)
    if not correction.needed:
        steps = [holes, entry, bench.step(StepName.REAM, ream_words(plan, whole=True), reamer), cut]
        if held:
            steps.append(bench.step(StepName.HOLD, "Hold length, axis and rotation with the pins."))
        return steps
    hold_words = (
        "Lock the temporary fixator on the pins; check axis and rotation in both planes."
        if held
        else "Hold the correction by hand or with clamps; check axis and rotation in both planes."
    )
    return [
        holes,
        entry,
        bench.step(StepName.REAM_DRIVING_FRAGMENT, ream_words(plan, whole=False), reamer),
        cut,
        bench.step(
            StepName.CORRECT,
            correction_words(correction),
            ("turn of the distal fragment", correction.turn_deg, "deg"),
            ("shift of the bone ends at the osteotomy", correction.shift_mm, "mm"),
        ),
        bench.step(StepName.HOLD, hold_words),
        bench.step(StepName.GUIDE_WIRE, guide_wire_words(plan)),
        bench.step(StepName.REAM_CORRECTED, ream_corrected_words(plan), reamer),
    ]


def _two_level_steps(bench: _Bench, plan: BonePlan, scale: LevelScale, second: SecondOsteotomy) -> list[Step]:
    """Two osteotomies of one bone, the one nearer to the entry first.

    Each is cut, corrected and held before the fragment beyond it is reamed, so that a loose middle fragment
    is never reamed.
    """
    driving, far = fragments(plan.direction)
    both = sorted(plan.osteotomies(), key=lambda cut: cut.depth_mm)
    levels = " and ".join(level_words(scale, cut.below_joint_mm) for cut in both)
    reamer = ("largest reamer", plan.reamer_mm, "mm")
    steps = [
        bench.step(
            StepName.DRILL_HOLES,
            f"Drill holes across the {plan.bone} at both osteotomies, {levels}: they vent the canal while it "
            "is reamed and weaken the cortex.",
        ),
        bench.step(StepName.ENTRY, entry_words(plan)),
        bench.step(StepName.REAM_DRIVING_FRAGMENT, ream_words(plan, whole=False), reamer),
    ]
    by_level = {c.lengthens: c for c in corrections_of(plan)}
    for cut, beyond in zip(both, (Fragment.MIDDLE, far), strict=True):
        is_second = cut is second.osteotomy
        correction = by_level[not is_second]
        steps.append(
            bench.step(
                StepName.SECOND_OSTEOTOMY if is_second else StepName.OSTEOTOMY,
                cut_words(scale, cut, second=is_second),
                ("osteotomy below the joint line", cut.below_joint_mm, "mm"),
            )
        )
        if correction.needed:
            name = "second osteotomy" if is_second else "osteotomy that is lengthened"
            steps.append(
                bench.step(
                    StepName.CORRECT,
                    correction_words(correction, at=f" at the {name}", below="part below it"),
                    ("turn of the part below", correction.turn_deg, "deg"),
                    ("shift of the bone ends at the osteotomy", correction.shift_mm, "mm"),
                )
            )
        previous = driving if beyond is Fragment.MIDDLE else Fragment.MIDDLE
        steps.append(
            bench.step(
                StepName.HOLD,
                f"Hold the {beyond} fragment against the {previous} one; check axis and rotation in both "
                "planes.",
            )
        )
        steps.append(bench.step(StepName.REAM_CORRECTED, ream_on_words(plan, beyond), reamer))
    return steps


def _second_fixation(bench: _Bench, plan: BonePlan) -> list[Step]:
    if plan.second is None:
        return []
    return [bench.step(StepName.FIX_SECOND, hold_second_words(plan, plan.second))]


def _fibular_screws(bench: _Bench, plan: BonePlan, courses: tuple[str, str]) -> list[Step]:
    if plan.fibula is None:
        return []
    return [
        bench.step(
            StepName.FIBULAR_SCREW,
            fibular_screw_words(plan.fibula, proximal=proximal, course=course),
            ("screw", plan.fibula.screw_diameter_mm, "mm"),
        )
        for proximal, course in zip((True, False), courses, strict=True)
    ]


def _closing_steps(bench: _Bench, plan: BonePlan) -> list[Step]:
    steps = []
    if plan.calf_release:
        steps.append(
            bench.step(StepName.CALF_RELEASE, "Release the calf; check dorsiflexion with the knee straight.")
        )
    if plan.pins:
        steps.append(
            bench.step(
                StepName.REMOVE_PINS,
                f"Remove all {len(plan.pins)} pins and markers, after both fragments are locked.",
                ("pins and markers", float(len(plan.pins)), ""),
            )
        )
    steps.append(
        bench.step(
            StepName.FINAL_FILMS,
            "Films in both planes: axis, rotation, nail, screws and osteotomy against the plan.",
        )
    )
    return steps
