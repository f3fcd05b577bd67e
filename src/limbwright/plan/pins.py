"""Temporary fixator pins and rotation markers, kept out of the nail's path.

In the fragment at the nail's driving end a pin passes behind the nail (in the femur in front of it where
there is more room); in the other fragment it passes beyond the nail's tip, or beside it like the first where
there is no room beyond. Pins run across the leg, so in the sagittal view they are seen end on, and room is
measured there.
"""

from dataclasses import dataclass

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.plan.decision import Pin, PinRole
from limbwright.plan.hardware_limits import Interval
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value, require_within

NEXT_STEP = "Check the walls traced on the sagittal film and the nail path."


@dataclass(frozen=True, slots=True, kw_only=True)
class SagittalRoom(Value):
    """Bone outline and nail path at one level, seen from the side; anterior + on any common zero."""

    below_joint_mm: float
    """Level below the bone's proximal joint line (femur: head centre) along the bone as it stands [mm]."""
    path_anterior_mm: float
    """Centre line of the nail [mm]."""
    anterior_border_mm: float
    """Outer anterior border of the bone [mm]."""
    posterior_border_mm: float
    """Outer posterior border of the bone [mm]."""

    def __post_init__(self) -> None:
        step = NEXT_STEP
        depth_mm = self.anterior_border_mm - self.posterior_border_mm
        require_within("bone depth at the pin's level", depth_mm, 8, 150, "mm", next_step=step)
        require_within(
            "nail path at the pin's level",
            self.path_anterior_mm,
            self.posterior_border_mm,
            self.anterior_border_mm,
            "mm",
            next_step=step,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PinLevels(Value):
    """Levels that pins must keep clear of, below the bone's proximal joint line (femur: head centre)."""

    bone_length_mm: float
    """Distal joint line of the bone [mm]."""
    osteotomies_mm: tuple[float, ...]
    """One or two osteotomies [mm]."""
    nail_tip_mm: float
    """Far tip of the nail at the operation [mm]."""
    free: tuple[Interval, ...] | None = None
    """Stretches that hardware leaves free for pins; None = no hardware."""

    def nearest_osteotomy_mm(self, level_mm: float) -> float:
        """The osteotomy nearest to a level. [mm]"""
        return min(self.osteotomies_mm, key=lambda cut: abs(cut - level_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class PinPlan(Value):
    """Pins and markers with what to weigh about them."""

    pins: tuple[Pin, ...]
    """Pins and markers that fit."""
    findings: tuple[Finding, ...]
    """What does not fit or fits closely, worst first."""


def clearance_beside_mm(
    room: SagittalRoom, *, reamed_diameter_mm: float, pin_diameter_mm: float, posterior: bool
) -> float:
    """Free distance between pin and reamed path with the pin just inside the bone's border. [mm]

    Negative when the pin would cut into the path. The pin is set as far from the nail as keeps it wholly in
    bone; every millimetre it is set nearer to the nail is lost.
    """
    if posterior:
        to_border = room.path_anterior_mm - room.posterior_border_mm
    else:
        to_border = room.anterior_border_mm - room.path_anterior_mm
    return to_border - reamed_diameter_mm / 2 - pin_diameter_mm


def beyond_tip_level_mm(
    *,
    nail_tip_mm: float,
    bone_end_mm: float,
    beyond_tip_mm: float,
    to_joint_mm: float,
    pin_diameter_mm: float,
) -> float | None:
    """Level of a pin beyond the nail's tip, midway in the room that margins leave; None = no room. [mm]

    Parameters
    ----------
    nail_tip_mm, bone_end_mm : float
        Tip, and the joint line beyond it, on the same scale in either direction. [mm]
    beyond_tip_mm, to_joint_mm : float
        Least distance of the pin's surface from the tip, and from the joint line. [mm]
    pin_diameter_mm : float
        Pin. [mm]
    """
    toward = 1.0 if bone_end_mm >= nail_tip_mm else -1.0
    gap = abs(bone_end_mm - nail_tip_mm)
    nearest = beyond_tip_mm + pin_diameter_mm / 2
    farthest = gap - to_joint_mm - pin_diameter_mm / 2
    if farthest < nearest:
        return None
    return nail_tip_mm + toward * (nearest + farthest) / 2


def pin_plan(
    *,
    bone: Bone,
    direction: Direction,
    levels: PinLevels,
    driving_end: SagittalRoom,
    far_end: SagittalRoom | None,
    reamed_diameter_mm: float,
    profile: Profile,
) -> PinPlan:
    """Two pins and two rotation markers that let the deformity be held while the nail goes in.

    Parameters
    ----------
    bone : Bone
        Femur or tibia.
    direction : Direction
        Way the nail is driven.
    levels : PinLevels
        Joint, osteotomy, nail tip and free stretches.
    driving_end : SagittalRoom
        Outline and path at the level wanted for the pin in the fragment at the driving end.
    far_end : SagittalRoom, optional
        The same in the other fragment, for the case that there is no room beyond the tip.
    reamed_diameter_mm : float
        Largest reamer. [mm]
    profile : Profile
        The surgeon's own sizes and margins.

    Notes
    -----
    The markers lie beside the pins, along the bone, one on each side of the osteotomy; they are set with
    the angle of the rotation to be corrected between them, so that they are parallel when it is.
    """
    near, far = (
        (Fragment.PROXIMAL, Fragment.DISTAL)
        if direction is Direction.ANTEGRADE
        else (Fragment.DISTAL, Fragment.PROXIMAL)
    )
    found: list[Finding] = []
    pins: list[Pin] = []
    beside = _beside(bone, near, driving_end, reamed_diameter_mm, profile)
    found += _side_findings(beside, reamed_diameter_mm, profile)
    if beside.clearance_mm > 0:
        pins.append(beside)
    end_mm = levels.bone_length_mm if direction is Direction.ANTEGRADE else 0.0
    level = beyond_tip_level_mm(
        nail_tip_mm=levels.nail_tip_mm,
        bone_end_mm=end_mm,
        beyond_tip_mm=profile.pin_beyond_tip_mm,
        to_joint_mm=profile.pin_clearance_to_joint_mm,
        pin_diameter_mm=profile.pin_diameter_mm,
    )
    if level is not None:
        pins.append(
            Pin(
                role=_role(far),
                bone=bone,
                fragment=far,
                below_joint_mm=level,
                nail_side="beyond the nail tip",
                clearance_mm=abs(level - levels.nail_tip_mm) - profile.pin_diameter_mm / 2,
                diameter_mm=profile.pin_diameter_mm,
            )
        )
    else:
        other = _beside(bone, far, far_end, reamed_diameter_mm, profile) if far_end else None
        fits = other is not None and other.clearance_mm > 0
        found.append(_no_room_beyond(bone, levels, end_mm, fits=fits, profile=profile))
        if other is not None and far_end is not None:
            found += _side_findings(other, reamed_diameter_mm, profile)
            if fits:
                pins.append(other)
    for pin in pins:
        found += _level_findings(pin, levels, profile)
    markers = [(pin, _marker(pin, levels, profile)) for pin in pins]
    found += [_pin_marks(pin) for pin, marker in markers if marker is None]
    set_markers = tuple(marker for _, marker in markers if marker is not None)
    return PinPlan(pins=(*pins, *set_markers), findings=ordered(tuple(found)))


def _role(fragment: Fragment) -> PinRole:
    return PinRole.HOLD_PROXIMAL if fragment is Fragment.PROXIMAL else PinRole.HOLD_DISTAL


def _beside(
    bone: Bone, fragment: Fragment, room: SagittalRoom, reamed_diameter_mm: float, profile: Profile
) -> Pin:
    """The pin beside the nail: behind it; in the femur in front where only there it has its margin."""
    behind, front = (
        clearance_beside_mm(
            room,
            reamed_diameter_mm=reamed_diameter_mm,
            pin_diameter_mm=profile.pin_diameter_mm,
            posterior=posterior,
        )
        for posterior in (True, False)
    )
    anterior = bone is Bone.FEMUR and behind < profile.pin_clearance_to_nail_mm and front > behind
    return Pin(
        role=_role(fragment),
        bone=bone,
        fragment=fragment,
        below_joint_mm=room.below_joint_mm,
        nail_side="anterior to the nail" if anterior else "posterior to the nail",
        clearance_mm=front if anterior else behind,
        diameter_mm=profile.pin_diameter_mm,
    )


def _marker(pin: Pin, levels: PinLevels, profile: Profile) -> Pin | None:
    """The rotation marker of a fragment: beside its pin, away from the osteotomy if that is free.

    None where it would lose the margin from the tip; then the pin itself marks rotation.
    """
    away = -1.0 if pin.below_joint_mm < levels.nearest_osteotomy_mm(pin.below_joint_mm) else 1.0
    step = profile.pin_diameter_mm + profile.pin_clearance_to_nail_mm
    level = pin.below_joint_mm + away * step
    margin = profile.pin_clearance_to_joint_mm + profile.pin_diameter_mm / 2
    if not margin <= level <= levels.bone_length_mm - margin:
        level = pin.below_joint_mm - away * step
    role = (
        PinRole.ROTATION_MARKER_PROXIMAL
        if pin.fragment is Fragment.PROXIMAL
        else PinRole.ROTATION_MARKER_DISTAL
    )
    clearance = pin.clearance_mm
    if "tip" in pin.nail_side:
        clearance = abs(level - levels.nail_tip_mm) - profile.pin_diameter_mm / 2
        if clearance < profile.pin_beyond_tip_mm:
            return None
    return Pin(
        role=role,
        bone=pin.bone,
        fragment=pin.fragment,
        below_joint_mm=level,
        nail_side=pin.nail_side,
        clearance_mm=clearance,
        diameter_mm=pin.diameter_mm,
    )


def _pin_marks(pin: Pin) -> Finding:
    return Finding(
        id="pin-marks-rotation",
        severity=Severity.NOTE,
        words=f"There is no room for a separate rotation marker in the {pin.fragment} fragment of the "
        f"{pin.bone}.",
        next_step="Use the pin itself to mark rotation.",
        rule="Each fragment carries one mark of rotation.",
        source=COMMON_PRACTICE,
    )


def pin_findings(pin: Pin, levels: PinLevels, reamed_diameter_mm: float, profile: Profile) -> list[Finding]:
    """What is to be weighed about where one pin lies: nail, osteotomy, hardware."""
    beside = "tip" not in pin.nail_side
    return [
        *(_side_findings(pin, reamed_diameter_mm, profile) if beside else []),
        *_level_findings(pin, levels, profile),
    ]


def _side_findings(pin: Pin, reamed_diameter_mm: float, profile: Profile) -> list[Finding]:
    wanted = profile.pin_clearance_to_nail_mm
    if pin.clearance_mm >= wanted:
        return []
    numbers = (
        Number(name="free distance to the reamed path", value=pin.clearance_mm, unit="mm"),
        Number(name="wanted", value=wanted, unit="mm"),
        Number(name="reamed diameter", value=reamed_diameter_mm, unit="mm"),
        Number(name="level below the joint line", value=pin.below_joint_mm, unit="mm"),
    )
    where = f"{pin.below_joint_mm:.0f} mm below the joint line of the {pin.bone}"
    rule = f"A pin keeps {wanted:g} mm from the reamed path."
    source = rule_source(profile, "pin_clearance_to_nail_mm")
    if pin.clearance_mm <= 0:
        return [
            Finding(
                id="pin-in-nail-path",
                severity=Severity.STOP,
                words=f"A {pin.diameter_mm:g} mm pin {where} would cut {-pin.clearance_mm:.1f} mm into the "
                f"path reamed to {reamed_diameter_mm:g} mm.",
                next_step="Choose another level, a thinner pin, a pin through one cortex, or another way "
                "to hold.",
                numbers=numbers,
                rule=rule,
                source=source,
            )
        ]
    return [
        Finding(
            id="pin-close-to-nail",
            severity=Severity.CAUTION,
            words=f"A {pin.diameter_mm:g} mm pin {where}, {pin.nail_side}, leaves only "
            f"{pin.clearance_mm:.1f} mm to the reamed path, wanted {wanted:g} mm.",
            next_step="Set it under fluoroscopy in a true side view, or choose another level.",
            numbers=numbers,
            rule=rule,
            source=source,
        )
    ]


def _no_room_beyond(bone: Bone, levels: PinLevels, end_mm: float, *, fits: bool, profile: Profile) -> Finding:
    gap = abs(end_mm - levels.nail_tip_mm)
    needed = profile.pin_beyond_tip_mm + profile.pin_clearance_to_joint_mm + profile.pin_diameter_mm
    words = (
        f"Between nail tip and joint line of the {bone} are {gap:.0f} mm; a pin beyond the tip needs "
        f"{needed:.0f} mm."
    )
    numbers = (
        Number(name="tip to joint line", value=gap, unit="mm"),
        Number(name="needed", value=needed, unit="mm"),
    )
    source = rule_source(profile, "pin_beyond_tip_mm", "pin_clearance_to_joint_mm")
    if fits:
        return Finding(
            id="pin-not-beyond-tip",
            severity=Severity.CAUTION,
            words=f"{words} It is set beside the nail instead.",
            next_step="Set it under fluoroscopy in a true side view, or choose a shorter nail.",
            numbers=numbers,
            rule="In the far fragment a pin passes beyond the nail's tip.",
            source=source,
        )
    return Finding(
        id="pin-no-room-in-far-fragment",
        severity=Severity.STOP,
        words=f"{words} Beside the nail there is no room either, or it is not known.",
        next_step="Choose a shorter nail, a thinner pin, or another way to hold the correction.",
        numbers=numbers,
        rule="In the far fragment a pin passes beyond the nail's tip.",
        source=source,
    )


def _level_findings(pin: Pin, levels: PinLevels, profile: Profile) -> list[Finding]:
    found = []
    to_cut = abs(pin.below_joint_mm - levels.nearest_osteotomy_mm(pin.below_joint_mm)) - pin.diameter_mm / 2
    if to_cut < profile.pin_clearance_to_osteotomy_mm:
        found.append(
            Finding(
                id="pin-near-osteotomy",
                severity=Severity.CAUTION,
                words=f"The pin that {pin.role} lies {to_cut:.0f} mm from the osteotomy, wanted "
                f"{profile.pin_clearance_to_osteotomy_mm:g} mm.",
                next_step="Move the pin away from the osteotomy.",
                numbers=(Number(name="distance from the osteotomy", value=to_cut, unit="mm"),),
                rule="Pins leave room for the osteotomy and its crack.",
                source=rule_source(profile, "pin_clearance_to_osteotomy_mm"),
            )
        )
    if levels.free is not None and not any(part.holds(pin.below_joint_mm) for part in levels.free):
        found.append(
            Finding(
                id="pin-in-hardware",
                severity=Severity.STOP,
                words=f"The pin that {pin.role}, {pin.below_joint_mm:.0f} mm below the joint line of the "
                f"{pin.bone}, would meet hardware or come too near the joint.",
                next_step="Choose a level that hardware leaves free.",
                numbers=(Number(name="level", value=pin.below_joint_mm, unit="mm"),),
                rule="Pins keep clear of hardware and joints.",
                source=COMMON_PRACTICE,
            )
        )
    return found
