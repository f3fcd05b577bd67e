"""Barriers: what speaks against lengthening a bone, or against one way of driving its nail."""

from dataclasses import dataclass

from limbwright.finding import Finding, Number, Severity
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import BoneQuality, Examination, JointState
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.maturity import WAYS, WayMaturity
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Barrier(Value):
    """One reason not to lengthen a bone, or not to drive its nail one way."""

    bone: Bone
    """Bone it concerns."""
    direction: Direction | None
    """Way of driving the nail it closes; None = lengthening this bone at all."""
    finding: Finding
    """Why."""


def way_in(bone: Bone, preferred: Direction, barriers: tuple[Barrier, ...]) -> Direction | None:
    """The preferred way into a bone, the other one when that is closed, None when nothing is open."""
    if any(b.bone is bone and b.direction is None for b in barriers):
        return None
    closed = {b.direction for b in barriers if b.bone is bone}
    open_ways = [way for way in WAYS[bone] if way not in closed]
    return preferred if preferred in open_ways else next(iter(open_ways), None)


def barriers(
    *,
    examination: Examination,
    ways: tuple[WayMaturity, ...],
    hardware: tuple[HardwareLimits, ...],
    profile: Profile,
) -> tuple[Barrier, ...]:
    """All barriers of one leg.

    Parameters
    ----------
    examination : Examination
        Joints, infection.
    ways : tuple of WayMaturity
        Growth plate that each way in crosses (`plan.maturity.ways_maturity`).
    hardware : tuple of HardwareLimits
        What hardware leaves free, for each bone.
    profile : Profile
        The surgeon's own limits.
    """
    return (
        *_hip(examination, profile),
        *_knee(examination),
        *_infection(examination),
        *_physes(ways),
        *_hardware(hardware),
    )


def _hip(examination: Examination, profile: Profile) -> tuple[Barrier, ...]:
    found = []
    if examination.hip is JointState.UNSTABLE:
        finding = Finding(
            id="hip-unstable-femur",
            severity=Severity.STOP,
            words="The hip is unstable: lengthening the femur pulls the head out of the socket.",
            next_step="Stabilise the hip first, or lengthen the tibia.",
            rule="A hip that is not stable is treated before the femur is lengthened.",
            source=COMMON_PRACTICE,
        )
        found.append(Barrier(bone=Bone.FEMUR, direction=None, finding=finding))
    cover = examination.hip_centre_edge_deg
    if cover is not None and cover < profile.hip_centre_edge_angle_min_deg:
        finding = Finding(
            id="hip-cover-femur",
            severity=Severity.STOP,
            words=f"The centre-edge angle of the hip is {cover:.0f} degrees, below "
            f"{profile.hip_centre_edge_angle_min_deg:g}: the hip may subluxate while the femur lengthens.",
            next_step="Improve the cover of the head first, or lengthen the tibia.",
            numbers=(Number(name="centre-edge angle", value=cover, unit="deg"),),
            rule="Hip dysplasia is treated before the femur is lengthened.",
            source=rule_source(profile, "hip_centre_edge_angle_min_deg"),
        )
        found.append(Barrier(bone=Bone.FEMUR, direction=None, finding=finding))
    if examination.hip is JointState.REPLACED:
        finding = Finding(
            id="hip-replaced-antegrade",
            severity=Severity.STOP,
            words="The hip is replaced: its stem closes the way in for an antegrade femoral nail.",
            next_step="Consider a retrograde nail that ends short of the stem, or the tibia.",
            rule="A stem in the canal closes that end of the bone.",
            source=COMMON_PRACTICE,
        )
        found.append(Barrier(bone=Bone.FEMUR, direction=Direction.ANTEGRADE, finding=finding))
    return tuple(found)


def _knee(examination: Examination) -> tuple[Barrier, ...]:
    if examination.knee is JointState.UNSTABLE:
        finding = Finding(
            id="knee-unstable-femur",
            severity=Severity.STOP,
            words="The knee is unstable: lengthening the femur tightens the hamstrings and subluxates it.",
            next_step="Stabilise or span the knee first, or lengthen the tibia and watch the knee.",
            rule="An unstable knee is not left alone while the femur above it lengthens.",
            source=COMMON_PRACTICE,
        )
        return (Barrier(bone=Bone.FEMUR, direction=None, finding=finding),)
    if examination.knee not in {JointState.FUSED, JointState.REPLACED}:
        return ()
    state = "fused" if examination.knee is JointState.FUSED else "replaced"
    tibial = Finding(
        id="knee-blocks-tibial-entry",
        severity=Severity.STOP,
        words=f"The knee is {state}: the entry of a tibial nail cannot be reached.",
        next_step="Consider an antegrade femoral nail.",
        rule="A tibial nail enters through the knee region and needs it free and mobile.",
        source=COMMON_PRACTICE,
    )
    femoral = Finding(
        id="knee-blocks-retrograde-entry",
        severity=Severity.STOP,
        words=f"The knee is {state}: a retrograde femoral nail cannot go in through it.",
        next_step="Consider an antegrade femoral nail.",
        rule="A retrograde nail enters through the knee.",
        source=COMMON_PRACTICE,
    )
    return (
        Barrier(bone=Bone.TIBIA, direction=Direction.ANTEGRADE, finding=tibial),
        Barrier(bone=Bone.FEMUR, direction=Direction.RETROGRADE, finding=femoral),
    )


def _infection(examination: Examination) -> tuple[Barrier, ...]:
    return tuple(
        Barrier(
            bone=bone,
            direction=None,
            finding=Finding(
                id="infection-in-bone",
                severity=Severity.STOP,
                words=f"The {bone} was infected before: a nail can wake the infection and spread it.",
                next_step="Rule out infection first, lengthen the other bone, or lengthen without a nail.",
                rule="A bone that was infected is not nailed until infection is ruled out.",
                source=COMMON_PRACTICE,
            ),
        )
        for bone in (Bone.FEMUR, Bone.TIBIA)
        if bone in examination.previous_infection or _infected_zone(bone, examination)
    )


def _infected_zone(bone: Bone, examination: Examination) -> bool:
    return any(
        zone.bone is bone and zone.quality is BoneQuality.INFECTED_BEFORE for zone in examination.bone_quality
    )


def _physes(ways: tuple[WayMaturity, ...]) -> tuple[Barrier, ...]:
    return tuple(
        Barrier(bone=way.bone, direction=way.direction, finding=finding)
        for way in ways
        for finding in way.findings
        if finding.severity is Severity.STOP
    )


def _hardware(hardware: tuple[HardwareLimits, ...]) -> tuple[Barrier, ...]:
    found = []
    for limits in hardware:
        nowhere = next((f for f in limits.findings if f.id == "hardware-leaves-no-osteotomy"), None)
        if nowhere is not None:
            found.append(Barrier(bone=limits.bone, direction=None, finding=nowhere))
        for direction in limits.blocked_entries:
            if direction not in WAYS[limits.bone]:
                continue
            finding = Finding(
                id="hardware-blocks-entry",
                severity=Severity.STOP,
                words=f"Hardware at the driving end of the {limits.bone} closes the {direction} way in.",
                next_step="Take it out first, choose the other way in, or the other bone.",
                rule="Hardware in the canal at the driving end leaves no entry.",
                source=COMMON_PRACTICE,
            )
            found.append(Barrier(bone=limits.bone, direction=direction, finding=finding))
    return tuple(found)
