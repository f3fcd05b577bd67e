"""What hardware that is there, or planned beside the lengthening, leaves free for nail, osteotomy and pins.

All stretches lie along the bone as it stands, in millimetres below its proximal joint line (femur: head
centre).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from limbwright.error import Contradiction
from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.burden import strategy_figure
from limbwright.plan.circumstances import HardwareKind, StandingHardware
from limbwright.plan.rule import rule_source
from limbwright.practice.by_bone import osteotomy_margins_mm
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE, Source, Status
from limbwright.quantity import Value

STRESS_BETWEEN_IMPLANTS = Source(
    text="a short stretch of bone between two stiff implants carries all the bending",
    status=Status.JUDGEMENT,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval(Value):
    """A stretch of a bone."""

    from_mm: float
    """Proximal end, below the bone's proximal joint line [mm]."""
    to_mm: float
    """Distal end [mm]."""

    def __post_init__(self) -> None:
        if not self.to_mm > self.from_mm:
            raise Contradiction(
                f"a stretch from {self.from_mm:g} to {self.to_mm:g} mm has no length.",
                where="interval along the bone",
                next_step="Give the proximal end first.",
            )

    @property
    def length_mm(self) -> float:
        """Length of the stretch. [mm]"""
        return self.to_mm - self.from_mm

    def holds(self, level_mm: float) -> bool:
        """Whether a level lies in the stretch, ends included."""
        return self.from_mm <= level_mm <= self.to_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareLimits(Value):
    """What is left free in one bone."""

    bone: Bone
    """Which bone."""
    length_mm: float
    """Length of the bone [mm]."""
    nail: tuple[Interval, ...]
    """Stretches of canal a nail may lie in."""
    osteotomy: tuple[Interval, ...]
    """Stretches the bone may be cut in."""
    pins: tuple[Interval, ...]
    """Stretches a fixator pin may pass through."""
    blocked_entries: tuple[Direction, ...]
    """Ways in that hardware closes."""
    findings: tuple[Finding, ...]
    """What was blocked, and why."""

    def reach(self, direction: Direction) -> Interval | None:
        """The stretch a nail reaches from its end of the bone; None when the entry is closed."""
        if direction in self.blocked_entries or not self.nail:
            return None
        return self.nail[0] if direction is Direction.ANTEGRADE else self.nail[-1]


def free_intervals(whole: Interval, blocked: Iterable[Interval]) -> tuple[Interval, ...]:
    """What is left of a stretch when others are taken out, from proximal to distal.

    Overlapping and disordered `blocked` stretches are allowed; their order does not matter.
    """
    free: list[Interval] = []
    start = whole.from_mm
    for taken in sorted(blocked, key=lambda i: i.from_mm):
        if taken.from_mm > start:
            end = min(taken.from_mm, whole.to_mm)
            if end > start:
                free.append(Interval(from_mm=start, to_mm=end))
        start = max(start, taken.to_mm)
    if start < whole.to_mm:
        free.append(Interval(from_mm=start, to_mm=whole.to_mm))
    return tuple(free)


def widened(hardware: StandingHardware, by_mm: float) -> Interval:
    """The stretch a piece of hardware takes, with a margin at both ends."""
    return Interval(from_mm=hardware.from_mm - by_mm, to_mm=hardware.to_mm + by_mm)


def hardware_limits(
    *, bone: Bone, length_mm: float, hardware: tuple[StandingHardware, ...], profile: Profile
) -> HardwareLimits:
    """What the hardware in one bone leaves free for nail, osteotomy and pins.

    Parameters
    ----------
    bone : Bone
        Femur or tibia.
    length_mm : float
        Length of the bone from joint line to joint line (femur: head centre to knee line). [mm]
    hardware : tuple of StandingHardware
        Everything there or planned; entries of other bones are left out.
    profile : Profile
        The surgeon's own margins.

    Returns
    -------
    HardwareLimits
        Without hardware: the whole canal, and the bone but for the margins of the osteotomy and of the pins.

    Notes
    -----
    The femur's margin at the hip is counted from the tip of the greater trochanter; here that tip is taken to
    lie level with the centre of the head, as it does in a normal hip (mLPFA 90).
    """
    here = tuple(item for item in hardware if item.bone is bone)
    for item in here:
        if item.from_mm >= length_mm:
            raise Contradiction(
                f"{item.kind} begins {item.from_mm:g} mm below the joint, but the {bone} is {length_mm:g} "
                "mm long.",
                where=f"hardware of the {bone}",
                next_step="Measure its ends from the bone's proximal joint line (femur: head centre).",
            )
    whole = Interval(from_mm=0.0, to_mm=length_mm)
    top_mm, bottom_mm = osteotomy_margins_mm(profile, bone=bone)
    cut_room = _between(top_mm, length_mm - bottom_mm)
    pin_room = _between(profile.pin_clearance_to_joint_mm, length_mm - profile.pin_clearance_to_joint_mm)
    pin_margin_mm = profile.pin_clearance_to_nail_mm + profile.pin_diameter_mm / 2
    in_canal = [widened(item, profile.tip_clearance_to_joint_mm) for item in here if item.in_canal]
    over_cut = [
        widened(item, profile.osteotomy_min_to_hardware_mm)
        for item in here
        if item.kind is not HardwareKind.FRAME
    ]
    over_pins = [widened(item, pin_margin_mm) for item in here]
    blocked = tuple(way for way in Direction if any(_blocks_entry(item, way, length_mm) for item in here))
    limits = HardwareLimits(
        bone=bone,
        length_mm=length_mm,
        nail=free_intervals(whole, in_canal),
        osteotomy=free_intervals(cut_room, over_cut) if cut_room else (),
        pins=free_intervals(pin_room, over_pins) if pin_room else (),
        blocked_entries=blocked,
        findings=(),
    )
    findings = [_finding(item, profile) for item in here]
    if here and not limits.osteotomy:
        findings.append(_nowhere_to_cut(bone, length_mm, profile))
    return HardwareLimits(
        bone=limits.bone,
        length_mm=limits.length_mm,
        nail=limits.nail,
        osteotomy=limits.osteotomy,
        pins=limits.pins,
        blocked_entries=limits.blocked_entries,
        findings=ordered(tuple(findings)),
    )


def _between(from_mm: float, to_mm: float) -> Interval | None:
    return Interval(from_mm=from_mm, to_mm=to_mm) if to_mm > from_mm else None


def _blocks_entry(item: StandingHardware, direction: Direction, length_mm: float) -> bool:
    if not item.in_canal and item.kind is not HardwareKind.HIP_RECONSTRUCTION:
        return False
    entry_mm = strategy_figure("entry_region")
    if direction is Direction.ANTEGRADE:
        return item.from_mm <= entry_mm
    return item.to_mm >= length_mm - entry_mm


def _finding(item: StandingHardware, profile: Profile) -> Finding:
    """What one piece of hardware means for the plan."""
    when = "planned" if item.planned else "there"
    numbers = (
        Number(name="proximal end below the joint line", value=item.from_mm, unit="mm"),
        Number(name="distal end below the joint line", value=item.to_mm, unit="mm"),
    )
    where = (
        f"{item.kind} {when} in the {item.bone}, {item.from_mm:.0f} to {item.to_mm:.0f} mm below its "
        "proximal joint line"
    )
    if item.kind is HardwareKind.FRAME:
        return Finding(
            id="hardware-frame-pins",
            severity=Severity.CAUTION,
            words=f"{where}: pin tracts that reach the canal can carry infection to a nail.",
            next_step="Consider removing the frame and letting the tracts heal before the nail goes in.",
            numbers=numbers,
            rule="A nail behind a frame waits until the pin tracts are dry.",
            source=COMMON_PRACTICE,
        )
    if item.in_canal:
        return Finding(
            id="hardware-in-canal",
            severity=Severity.CAUTION,
            words=f"{where}: it fills the canal there. The nail must end "
            f"{profile.tip_clearance_to_joint_mm:g} mm or more short of it, and the bone between both "
            "implants is loaded more.",
            next_step="Choose a nail that ends clear of it, the other way in, or take it out first.",
            numbers=(
                *numbers,
                Number(name="clearance of the tip", value=profile.tip_clearance_to_joint_mm, unit="mm"),
            ),
            rule="Hardware in the canal limits the nail, the osteotomy and the pins.",
            source=STRESS_BETWEEN_IMPLANTS,
        )
    return Finding(
        id="hardware-beside-nail",
        severity=Severity.CAUTION,
        words=f"{where}: its screws may cross the nail's path. No osteotomy within "
        f"{profile.osteotomy_min_to_hardware_mm:g} mm of it, no pins through it.",
        next_step="Plan which screws come out or stay short of the canal, or take it out first.",
        numbers=(
            *numbers,
            Number(name="margin of the osteotomy", value=profile.osteotomy_min_to_hardware_mm, unit="mm"),
        ),
        rule="The osteotomy keeps a margin from hardware that stays or is planned.",
        source=rule_source(profile, "osteotomy_min_to_hardware_mm"),
    )


def _nowhere_to_cut(bone: Bone, length_mm: float, profile: Profile) -> Finding:
    return Finding(
        id="hardware-leaves-no-osteotomy",
        severity=Severity.STOP,
        words=f"The hardware in the {bone} ({length_mm:.0f} mm long) leaves no level where it may be cut.",
        next_step="Take hardware out first, change what is planned beside it, or choose the other bone.",
        numbers=(Number(name="length of the bone", value=length_mm, unit="mm"),),
        rule="The osteotomy keeps its margins from both joints and from hardware.",
        source=rule_source(profile, "osteotomy_min_to_hardware_mm"),
    )
