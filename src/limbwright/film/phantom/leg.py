"""What a phantom leg looks like: lengths, joint lines, shafts, deformities. Frozen values, no arrays.

Leg frame (ISB axes with z turned outward on both sides): x anterior, y proximal, z lateral, mm. The same
numbers describe a right and a left leg; the left one is mirrored when it is placed in the patient.
"""

from dataclasses import dataclass

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Side
from limbwright.quantity import Value, require_within

_MEND = "Give the phantom a leg that a person could have."


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftSection(Value):
    """Cross-section of a shaft at one level; diameters are perpendicular to the shaft."""

    level: float
    """Fraction of the bone length, 0 at the proximal joint centre, 1 at the distal one."""
    outer_mediolateral_mm: float
    """Periosteal width as seen on a frontal film without magnification. [mm]"""
    outer_anteroposterior_mm: float
    """Periosteal width as seen on a sagittal film without magnification. [mm]"""
    canal_mediolateral_mm: float
    """Endosteal width as seen on a frontal film without magnification. [mm]"""
    canal_anteroposterior_mm: float
    """Endosteal width as seen on a sagittal film without magnification. [mm]"""

    def __post_init__(self) -> None:
        require_within("shaft level", self.level, 0.0, 1.0, "of the length", next_step=_MEND)
        for plane, outer, canal in (
            ("mediolateral", self.outer_mediolateral_mm, self.canal_mediolateral_mm),
            ("anteroposterior", self.outer_anteroposterior_mm, self.canal_anteroposterior_mm),
        ):
            require_within(f"{plane} shaft width", outer, 5.0, 60.0, "mm", next_step=_MEND)
            if not 1.0 <= canal <= outer - 1.0:
                raise OutOfRange(
                    f"canal is {canal:g} mm wide in a shaft of {outer:g} mm.",
                    where=f"{plane} section at level {self.level:g}",
                    next_step="The canal must leave at least 0.5 mm of cortex on each side.",
                )


def _section(
    level: float, outer_ml: float, outer_ap: float, canal_ml: float, canal_ap: float
) -> ShaftSection:
    return ShaftSection(
        level=level,
        outer_mediolateral_mm=outer_ml,
        outer_anteroposterior_mm=outer_ap,
        canal_mediolateral_mm=canal_ml,
        canal_anteroposterior_mm=canal_ap,
    )


# Engineering judgement: widths of an average adult, chosen to look right beside a real film.
FEMUR_SHAFT = (
    _section(0.20, 31.0, 31.0, 18.5, 18.5),
    _section(0.35, 28.0, 28.5, 12.5, 13.0),
    _section(0.50, 27.5, 29.0, 11.5, 12.5),
    _section(0.65, 29.0, 30.0, 14.0, 15.0),
    _section(0.75, 33.5, 31.5, 20.5, 19.5),
    _section(0.82, 41.0, 35.0, 32.0, 27.0),
)
TIBIA_SHAFT = (
    _section(0.18, 37.0, 36.0, 29.5, 28.0),
    _section(0.30, 28.0, 31.0, 16.0, 18.0),
    _section(0.45, 24.5, 28.0, 11.5, 13.0),
    _section(0.60, 23.0, 25.0, 10.8, 12.0),
    _section(0.75, 24.0, 24.0, 13.5, 13.5),
    _section(0.84, 28.0, 26.0, 20.0, 18.5),
)


def scaled(sections: tuple[ShaftSection, ...], factor: float) -> tuple[ShaftSection, ...]:
    """The same shaft, every width multiplied by a factor: for a child's or a slender leg."""
    return tuple(
        _section(
            part.level,
            *(
                factor * width
                for width in (
                    part.outer_mediolateral_mm,
                    part.outer_anteroposterior_mm,
                    part.canal_mediolateral_mm,
                    part.canal_anteroposterior_mm,
                )
            ),
        )
        for part in sections
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Angulation(Value):
    """One deformity: the part of the bone distal of the level is turned and shifted against the rest."""

    bone: Bone
    """Bone that is deformed; the fibula bends with the tibia."""
    level: float
    """Level of the apex, fraction of the undeformed bone length from proximal."""
    varus_deg: float = 0.0
    """Turn of the distal part in the bone's frontal plane, varus +. [deg]"""
    procurvatum_deg: float = 0.0
    """Turn of the distal part in the bone's sagittal plane, procurvatum (apex anterior) +. [deg]"""
    external_rotation_deg: float = 0.0
    """Turn of the distal part about the shaft, external +. [deg]"""
    lateral_mm: float = 0.0
    """Shift of the distal part, lateral +. [mm]"""
    anterior_mm: float = 0.0
    """Shift of the distal part, anterior +. [mm]"""

    def __post_init__(self) -> None:
        if self.bone is Bone.FIBULA:
            raise OutOfRange(
                "a fibula cannot be bent by itself.",
                where="phantom deformity",
                next_step="Bend the tibia; the fibula bends with it.",
            )
        require_within("apex level", self.level, 0.05, 0.95, "of the length", next_step=_MEND)
        for name in ("varus_deg", "procurvatum_deg", "external_rotation_deg"):
            require_within(name, getattr(self, name), -60.0, 60.0, "deg", next_step=_MEND)


@dataclass(frozen=True, slots=True, kw_only=True)
class LegShape(Value):
    """One leg. Angles are those of the bones before any `deformities` are applied."""

    femur_length_mm: float = 430.0
    """Knee centre to femoral head centre along the mechanical axis. [mm]"""
    tibia_length_mm: float = 360.0
    """Knee centre to ankle centre along the mechanical axis of the frontal plane. [mm]"""
    mldfa_deg: float = 88.0
    """Mechanical lateral distal femoral angle. [deg]"""
    mpta_deg: float = 87.0
    """Medial proximal tibial angle. [deg]"""
    jlca_deg: float = 1.0
    """Joint-line convergence angle, opening lateral +. [deg]"""
    ldta_deg: float = 89.0
    """Lateral distal tibial angle. [deg]"""
    mlpfa_deg: float = 90.0
    """Mechanical lateral proximal femoral angle. [deg]"""
    pdfa_deg: float = 83.0
    """Posterior distal femoral angle. [deg]"""
    ppta_deg: float = 81.0
    """Posterior proximal tibial angle. [deg]"""
    adta_deg: float = 80.0
    """Anterior distal tibial angle. [deg]"""
    neck_shaft_deg: float = 130.0
    """Angle between neck and shaft in the frontal plane. [deg]"""
    anatomic_mechanical_deg: float = 7.0
    """Frontal angle between shaft and mechanical axis of the femur. [deg]"""
    femoral_bow_radius_mm: float = 1100.0
    """Radius of the anterior bow of the femoral shaft. [mm]"""
    head_radius_mm: float = 24.0
    """Radius of the femoral head. [mm]"""
    bone_width: float = 1.0
    """Width of bone ends as a fraction of an average adult's."""
    soft_tissue: float = 1.0
    """Girth of muscle and fat as a fraction of an average adult's."""
    femur_shaft: tuple[ShaftSection, ...] = FEMUR_SHAFT
    """Femoral sections, levels rising."""
    tibia_shaft: tuple[ShaftSection, ...] = TIBIA_SHAFT
    """Tibial sections, levels rising."""
    physes_open: bool = False
    """Whether growth plates are open."""
    deformities: tuple[Angulation, ...] = ()
    """Deformities, in any order; the more proximal one carries the more distal one along."""

    def __post_init__(self) -> None:
        for name, low, high, unit in (
            ("femur_length_mm", 150.0, 560.0, "mm"),
            ("tibia_length_mm", 120.0, 480.0, "mm"),
            ("mldfa_deg", 65.0, 110.0, "deg"),
            ("mpta_deg", 65.0, 110.0, "deg"),
            ("jlca_deg", -10.0, 15.0, "deg"),
            ("ldta_deg", 65.0, 110.0, "deg"),
            ("mlpfa_deg", 60.0, 120.0, "deg"),
            ("pdfa_deg", 60.0, 105.0, "deg"),
            ("ppta_deg", 60.0, 105.0, "deg"),
            ("adta_deg", 60.0, 105.0, "deg"),
            ("neck_shaft_deg", 100.0, 160.0, "deg"),
            ("anatomic_mechanical_deg", 3.0, 11.0, "deg"),
            ("femoral_bow_radius_mm", 400.0, 1e6, "mm"),
            ("head_radius_mm", 12.0, 32.0, "mm"),
            ("bone_width", 0.5, 1.4, "of average"),
            ("soft_tissue", 0.6, 1.8, "of average"),
        ):
            require_within(name, getattr(self, name), low, high, unit, next_step=_MEND)
        for bone in ("femur", "tibia"):
            levels = [section.level for section in getattr(self, f"{bone}_shaft")]
            if len(levels) < 2 or levels != sorted(set(levels)):
                raise OutOfRange(
                    f"levels are {levels}.",
                    where=f"{bone} shaft sections",
                    next_step="Give at least two sections, levels rising from proximal to distal.",
                )

    def deformities_of(self, bone: Bone) -> tuple[Angulation, ...]:
        """The deformities of one bone, from proximal to distal."""
        own = [item for item in self.deformities if item.bone is bone]
        return tuple(sorted(own, key=lambda item: item.level))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stance(Value):
    """How one leg is held while a film is taken."""

    rotation_deg: float = 0.0
    """Turn of the whole leg from 'patella forward', external +. [deg]"""
    knee_flexion_deg: float = 0.0
    """Bend of the knee. [deg]"""
    ankle_offset_mm: float = 70.0
    """Distance of the ankle centre from the patient's midline. [mm]"""
    forward_mm: float = 0.0
    """Shift of the whole leg toward the patient's front. [mm]"""

    def __post_init__(self) -> None:
        require_within("leg rotation", self.rotation_deg, -45.0, 45.0, "deg", next_step=_MEND)
        require_within("knee flexion", self.knee_flexion_deg, 0.0, 60.0, "deg", next_step=_MEND)
        require_within("ankle offset", self.ankle_offset_mm, 20.0, 250.0, "mm", next_step=_MEND)


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientShape(Value):
    """Both legs and the pelvis between them."""

    right: LegShape = LegShape()
    """The patient's right leg."""
    left: LegShape = LegShape()
    """The patient's left leg."""
    hip_distance_mm: float = 176.0
    """Distance between the two femoral head centres. [mm]"""

    def __post_init__(self) -> None:
        require_within("hip distance", self.hip_distance_mm, 90.0, 240.0, "mm", next_step=_MEND)

    def leg(self, side: Side) -> LegShape:
        """The leg of one side."""
        return self.right if side is Side.RIGHT else self.left
