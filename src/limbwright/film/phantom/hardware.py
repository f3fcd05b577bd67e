"""What a surgeon has put in, and what lies beside the leg to give the film its scale. Frozen values."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Side
from limbwright.quantity import Value, require_within

_MEND = "Give the phantom hardware that fits the bone."


class RegenerateShape(StrEnum):
    """Outline of new bone in a distraction gap, as the trade describes it."""

    FUSIFORM = "fusiform"
    CYLINDRICAL = "cylindrical"
    CONCAVE = "concave"
    LATERAL = "lateral"
    CENTRAL = "central"


@dataclass(frozen=True, slots=True, kw_only=True)
class Regenerate(Value):
    """New bone in a distraction gap."""

    shape: RegenerateShape = RegenerateShape.CYLINDRICAL
    """Outline."""
    width: float = 1.0
    """Its width at mid-gap as a fraction of the bone's outer width beside the gap."""
    density: float = 0.3
    """Its attenuation above soft tissue as a fraction of cortical bone's, 0 to 1."""
    interzone: float = 0.2
    """Height of the clear zone in its middle, as a fraction of the gap."""

    def __post_init__(self) -> None:
        require_within("regenerate width", self.width, 0.1, 2.0, "of the bone", next_step=_MEND)
        require_within("regenerate density", self.density, 0.0, 1.0, "of cortical bone", next_step=_MEND)
        require_within("regenerate clear zone", self.interzone, 0.0, 0.8, "of the gap", next_step=_MEND)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengthening(Value):
    """An osteotomy and where the distal fragment stands now."""

    bone: Bone
    """Bone that was cut."""
    level: float
    """Level of the cut, fraction of the bone's undeformed length from proximal."""
    gap_mm: float = 0.0
    """Distance the fragments were drawn apart along the shaft. [mm]"""
    varus_deg: float = 0.0
    """Turn of the distal fragment since the cut, varus +. [deg]"""
    procurvatum_deg: float = 0.0
    """Turn of the distal fragment since the cut, procurvatum +. [deg]"""
    external_rotation_deg: float = 0.0
    """Turn of the distal fragment about the shaft since the cut, external +. [deg]"""
    lateral_mm: float = 0.0
    """Shift of the distal fragment, lateral +. [mm]"""
    anterior_mm: float = 0.0
    """Shift of the distal fragment, anterior +. [mm]"""
    regenerate: Regenerate | None = None
    """New bone in the gap, if any is to be seen."""
    fibula_level: float = 0.75
    """Level of the fibula's own cut, fraction of the tibial length; only for the tibia."""

    def __post_init__(self) -> None:
        require_within("osteotomy level", self.level, 0.08, 0.92, "of the length", next_step=_MEND)
        require_within("distraction gap", self.gap_mm, 0.0, 150.0, "mm", next_step=_MEND)
        require_within(
            "fibular osteotomy level", self.fibula_level, 0.1, 0.93, "of the length", next_step=_MEND
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Nail(Value):
    """A telescoping nail put in from the top of the bone; its thick part stays in the proximal fragment."""

    bone: Bone
    """Bone it lies in."""
    top_level: float = 0.03
    """Level of its upper end, fraction of the bone length from proximal."""
    length_mm: float = 245.0
    """Length with the rod fully in. [mm]"""
    thick_mm: float = 10.7
    """Diameter of the thick part. [mm]"""
    thin_mm: float = 8.0
    """Diameter of the rod. [mm]"""
    thick_length_mm: float = 190.0
    """Length of the thick part from its upper end. [mm]"""
    bend_deg: float = 0.0
    """Bend of its upper end to the front (apex posterior), as nails for the tibia have. [deg]"""
    bend_depth_mm: float = 50.0
    """Distance of the bend from the upper end. [mm]"""
    lateral_mm: float = 0.0
    """Offset of its axis from the shaft's centre line, lateral +. [mm]"""
    anterior_mm: float = 0.0
    """Offset of its axis from the shaft's centre line, anterior +. [mm]"""
    holes_mm: tuple[float, ...] = ()
    """Distances of the locking holes from the upper end with the rod fully in. [mm]"""

    def __post_init__(self) -> None:
        require_within("nail length", self.length_mm, 100.0, 500.0, "mm", next_step=_MEND)
        require_within("nail bend", self.bend_deg, 0.0, 25.0, "deg", next_step=_MEND)
        if not 0 < self.thin_mm <= self.thick_mm < 20 or not 0 < self.thick_length_mm < self.length_mm:
            raise OutOfRange(
                f"thick part {self.thick_mm:g} x {self.thick_length_mm:g} mm, rod {self.thin_mm:g} mm, "
                f"length {self.length_mm:g} mm.",
                where="phantom nail",
                next_step="The rod must be thinner, and the thick part shorter, than the nail.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Screw(Value):
    """A screw or pin across a bone: locking, blocking, tibiofibular, or a fixator pin."""

    bone: Bone
    """Bone it crosses."""
    level: float
    """Level of its axis, fraction of the bone's undeformed length from proximal."""
    diameter_mm: float = 5.0
    """Diameter. [mm]"""
    direction_deg: float = 0.0
    """Direction in the horizontal plane: 0 from lateral to medial, 90 from anterior to posterior. [deg]"""
    offset_mm: float = 0.0
    """Distance of its axis from the shaft's centre: lateral + when it runs front to back, else anterior +.
    [mm]"""
    inside_mm: float = 40.0
    """Length beyond the shaft's centre line, toward the far cortex. [mm]"""
    outside_mm: float = 40.0
    """Length before the shaft's centre line, toward the side it came from. [mm]"""
    head_mm: float = 8.0
    """Diameter of its head; 0 for a pin. [mm]"""

    def __post_init__(self) -> None:
        require_within("screw level", self.level, 0.0, 1.0, "of the length", next_step=_MEND)
        require_within("screw diameter", self.diameter_mm, 1.0, 10.0, "mm", next_step=_MEND)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ball(Value):
    """Calibration ball, placed by where it is to be seen."""

    diameter_mm: float = 25.0
    """Diameter. [mm]"""
    viewer_right_mm: float = 0.0
    """Distance from the middle of the bone plane, to the viewer's right. [mm]"""
    below_hip_mm: float = 430.0
    """Distance below the femoral heads. [mm]"""
    toward_source_mm: float = 0.0
    """Distance from the plane of the bones toward the source. [mm]"""

    def __post_init__(self) -> None:
        require_within("ball diameter", self.diameter_mm, 5.0, 60.0, "mm", next_step=_MEND)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler(Value):
    """Straight ruler with metal ticks, upright in the plane of the bones."""

    viewer_right_mm: float = -170.0
    """Distance from the middle of the bone plane, to the viewer's right. [mm]"""
    below_hip_mm: float = 60.0
    """Distance of its upper end below the femoral heads. [mm]"""
    length_mm: float = 800.0
    """Length. [mm]"""
    toward_source_mm: float = 0.0
    """Distance from the plane of the bones toward the source. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardware(Value):
    """Treatment of one leg as it stands on the day of the film."""

    lengthenings: tuple[Lengthening, ...] = ()
    """Cuts; at most one per bone."""
    nails: tuple[Nail, ...] = ()
    """Nails."""
    screws: tuple[Screw, ...] = ()
    """Screws and pins."""

    def __post_init__(self) -> None:
        bones = [item.bone for item in self.lengthenings]
        if len(bones) != len(set(bones)):
            raise OutOfRange(
                f"{len(bones)} cuts in {len(set(bones))} bone(s).",
                where="phantom hardware",
                next_step="Give at most one osteotomy per bone.",
            )

    def cuts_of(self, bone: Bone) -> tuple[Lengthening, ...]:
        """The cut of one bone, if it has one."""
        return tuple(cut for cut in self.lengthenings if cut.bone is bone)


NO_HARDWARE = Hardware()


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment(Value):
    """Hardware of both legs."""

    right: Hardware = NO_HARDWARE
    """The patient's right leg."""
    left: Hardware = NO_HARDWARE
    """The patient's left leg."""

    def leg(self, side: Side) -> Hardware:
        """Hardware of one side."""
        return self.right if side is Side.RIGHT else self.left
