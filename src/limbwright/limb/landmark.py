"""Names of the points a reader marks on a film."""

from enum import StrEnum

from limbwright.limb.anatomy import Bone, Projection


class Landmark(StrEnum):
    """A named point. Shaft points are mid-diaphyseal: halfway between the outer cortical edges."""

    FEMORAL_HEAD_CENTRE = "femoral_head_centre"
    GREATER_TROCHANTER_TIP = "greater_trochanter_tip"
    FEMORAL_NECK_CENTRE = "femoral_neck_centre"
    FEMUR_PROXIMAL_SHAFT_UPPER = "femur_proximal_shaft_upper"
    FEMUR_PROXIMAL_SHAFT_LOWER = "femur_proximal_shaft_lower"
    FEMUR_MIDDLE_SHAFT_UPPER = "femur_middle_shaft_upper"
    FEMUR_MIDDLE_SHAFT_LOWER = "femur_middle_shaft_lower"
    FEMUR_DISTAL_SHAFT_UPPER = "femur_distal_shaft_upper"
    FEMUR_DISTAL_SHAFT_LOWER = "femur_distal_shaft_lower"
    MEDIAL_FEMORAL_CONDYLE = "medial_femoral_condyle"
    LATERAL_FEMORAL_CONDYLE = "lateral_femoral_condyle"
    DISTAL_FEMORAL_PHYSIS_ANTERIOR = "distal_femoral_physis_anterior"
    DISTAL_FEMORAL_PHYSIS_POSTERIOR = "distal_femoral_physis_posterior"
    FEMUR_KNEE_CENTRE = "femur_knee_centre"
    TIBIA_KNEE_CENTRE = "tibia_knee_centre"
    MEDIAL_PLATEAU = "medial_plateau"
    LATERAL_PLATEAU = "lateral_plateau"
    PLATEAU_ANTERIOR = "plateau_anterior"
    PLATEAU_POSTERIOR = "plateau_posterior"
    TIBIAL_TUBEROSITY = "tibial_tuberosity"
    TIBIA_PROXIMAL_SHAFT_UPPER = "tibia_proximal_shaft_upper"
    TIBIA_PROXIMAL_SHAFT_LOWER = "tibia_proximal_shaft_lower"
    TIBIA_MIDDLE_SHAFT_UPPER = "tibia_middle_shaft_upper"
    TIBIA_MIDDLE_SHAFT_LOWER = "tibia_middle_shaft_lower"
    TIBIA_DISTAL_SHAFT_UPPER = "tibia_distal_shaft_upper"
    TIBIA_DISTAL_SHAFT_LOWER = "tibia_distal_shaft_lower"
    MEDIAL_PLAFOND = "medial_plafond"
    LATERAL_PLAFOND = "lateral_plafond"
    PLAFOND_ANTERIOR = "plafond_anterior"
    PLAFOND_POSTERIOR = "plafond_posterior"
    ANKLE_CENTRE = "ankle_centre"
    FIBULAR_HEAD_TIP = "fibular_head_tip"
    LATERAL_MALLEOLUS_TIP = "lateral_malleolus_tip"


FRONTAL_ONLY = frozenset(
    {
        Landmark.GREATER_TROCHANTER_TIP,
        Landmark.FEMORAL_NECK_CENTRE,
        Landmark.MEDIAL_FEMORAL_CONDYLE,
        Landmark.LATERAL_FEMORAL_CONDYLE,
        Landmark.MEDIAL_PLATEAU,
        Landmark.LATERAL_PLATEAU,
        Landmark.MEDIAL_PLAFOND,
        Landmark.LATERAL_PLAFOND,
    }
)
SAGITTAL_ONLY = frozenset(
    {
        Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR,
        Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR,
        Landmark.PLATEAU_ANTERIOR,
        Landmark.PLATEAU_POSTERIOR,
        Landmark.TIBIAL_TUBEROSITY,
        Landmark.PLAFOND_ANTERIOR,
        Landmark.PLAFOND_POSTERIOR,
    }
)
_FEMUR = frozenset(
    landmark
    for landmark in Landmark
    if landmark.startswith(("femur", "femoral", "greater", "distal_femoral"))
) | {Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE}
_FIBULA = frozenset({Landmark.FIBULAR_HEAD_TIP, Landmark.LATERAL_MALLEOLUS_TIP})


def shown_in(landmark: Landmark, projection: Projection) -> bool:
    """Whether a landmark is marked on films of this projection."""
    return landmark not in (SAGITTAL_ONLY if projection is Projection.FRONTAL else FRONTAL_ONLY)


def bone_of(landmark: Landmark) -> Bone:
    """The bone a landmark moves with."""
    if landmark in _FIBULA:
        return Bone.FIBULA
    return Bone.FEMUR if landmark in _FEMUR else Bone.TIBIA


def plain_words(landmark: Landmark) -> str:
    """The landmark's name as a reader would say it."""
    return landmark.value.replace("_", " ")
