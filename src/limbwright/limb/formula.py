"""Which landmarks each measurement needs and how it is computed from them; one entry per construction.

Where the landmarks allow a measurement in more than one way, the entries stand in order of preference.
"""

from collections.abc import Callable
from dataclasses import dataclass

from limbwright.limb import alignment, joint_angle
from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.lines import Point, line_through, midpoint, point_of
from limbwright.limb.reading import Measure
from limbwright.limb.view import View

PROXIMAL_FEMUR = (Landmark.FEMUR_PROXIMAL_SHAFT_UPPER, Landmark.FEMUR_PROXIMAL_SHAFT_LOWER)
DISTAL_FEMUR = (Landmark.FEMUR_DISTAL_SHAFT_UPPER, Landmark.FEMUR_DISTAL_SHAFT_LOWER)
PROXIMAL_TIBIA = (Landmark.TIBIA_PROXIMAL_SHAFT_UPPER, Landmark.TIBIA_PROXIMAL_SHAFT_LOWER)
DISTAL_TIBIA = (Landmark.TIBIA_DISTAL_SHAFT_UPPER, Landmark.TIBIA_DISTAL_SHAFT_LOWER)
CONDYLES = (Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE)
PLATEAU = (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU)
PLAFOND = (Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND)
FEMUR_AXIS = (Landmark.FEMORAL_HEAD_CENTRE, Landmark.FEMUR_KNEE_CENTRE)
TIBIA_AXIS = (Landmark.TIBIA_KNEE_CENTRE, Landmark.ANKLE_CENTRE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """One way to make one measurement."""

    measure: Measure
    projection: Projection
    landmarks: tuple[Landmark, ...]
    of_points: Callable[..., float]
    """Takes the landmarks as points, in the order of `landmarks`."""
    unit: str
    words: str

    def compute(self, view: View) -> float:
        """The measurement on a view that has the landmarks [unit]."""
        return self.of_points(*(point_of(view, landmark) for landmark in self.landmarks))


def _frontal(
    measure: Measure,
    landmarks: tuple[Landmark, ...],
    of_points: Callable[..., float],
    words: str,
    unit: str = "deg",
) -> Formula:
    return Formula(
        measure=measure,
        projection=Projection.FRONTAL,
        landmarks=landmarks,
        of_points=of_points,
        unit=unit,
        words=words,
    )


def _sagittal(
    measure: Measure, landmarks: tuple[Landmark, ...], of_points: Callable[..., float], words: str
) -> Formula:
    return Formula(
        measure=measure,
        projection=Projection.SAGITTAL,
        landmarks=landmarks,
        of_points=of_points,
        unit="deg",
        words=words,
    )


def _mad(hip: Point, knee: Point, ankle: Point) -> float:
    return alignment.mechanical_axis_deviation_mm(hip=hip, knee=knee, ankle=ankle)


def _mad_both(hip: Point, femur_knee: Point, tibia_knee: Point, ankle: Point) -> float:
    return _mad(hip, midpoint(femur_knee, tibia_knee), ankle)


def _hka(hip: Point, femur_knee: Point, tibia_knee: Point, ankle: Point) -> float:
    return alignment.hip_knee_ankle_deviation_deg(
        hip=hip, femur_knee=femur_knee, tibia_knee=tibia_knee, ankle=ankle
    )


def _afta(femur_upper: Point, femur_lower: Point, tibia_upper: Point, tibia_lower: Point) -> float:
    return alignment.anatomic_femorotibial_deviation_deg(
        femur_shaft=line_through(femur_upper, femur_lower), tibia_shaft=line_through(tibia_upper, tibia_lower)
    )


def _length(proximal: Point, distal: Point) -> float:
    return alignment.bone_length_mm(proximal_centre=proximal, distal_centre=distal)


FORMULAS: tuple[Formula, ...] = (
    _frontal(
        Measure.MAD,
        (
            Landmark.FEMORAL_HEAD_CENTRE,
            Landmark.FEMUR_KNEE_CENTRE,
            Landmark.TIBIA_KNEE_CENTRE,
            Landmark.ANKLE_CENTRE,
        ),
        _mad_both,
        "distance of the knee centre (halfway between femoral and tibial knee centre) from the hip-ankle "
        "line, perpendicular to it; medial when the line runs medial of the knee",
        "mm",
    ),
    *(
        _frontal(
            Measure.MAD,
            (Landmark.FEMORAL_HEAD_CENTRE, knee, Landmark.ANKLE_CENTRE),
            _mad,
            "distance of the one marked knee centre from the hip-ankle line, perpendicular to it",
            "mm",
        )
        for knee in (Landmark.FEMUR_KNEE_CENTRE, Landmark.TIBIA_KNEE_CENTRE)
    ),
    _frontal(
        Measure.HKA,
        (*FEMUR_AXIS, *TIBIA_AXIS),
        _hka,
        "angle between the femoral mechanical axis (hip to femoral knee centre) and the tibial one "
        "(tibial knee centre to ankle); 0 is straight",
    ),
    *(
        _frontal(
            Measure.HKA,
            (Landmark.FEMORAL_HEAD_CENTRE, knee, Landmark.ANKLE_CENTRE),
            lambda hip, knee, ankle: _hka(hip, knee, knee, ankle),
            "angle between hip-knee and knee-ankle line at the one marked knee centre; 0 is straight",
        )
        for knee in (Landmark.FEMUR_KNEE_CENTRE, Landmark.TIBIA_KNEE_CENTRE)
    ),
    _frontal(
        Measure.AFTA,
        (*DISTAL_FEMUR, *PROXIMAL_TIBIA),
        _afta,
        "angle between the shaft lines of distal femur and proximal tibia",
    ),
    _frontal(
        Measure.MLPFA,
        (Landmark.FEMORAL_HEAD_CENTRE, Landmark.GREATER_TROCHANTER_TIP, Landmark.FEMUR_KNEE_CENTRE),
        lambda hip, tip, knee: joint_angle.mlpfa_deg(hip=hip, trochanter_tip=tip, knee=knee),
        "lateral angle between hip orientation line (head centre to trochanter tip) and femoral mechanical "
        "axis",
    ),
    _frontal(
        Measure.AMPFA,
        (Landmark.FEMORAL_HEAD_CENTRE, Landmark.GREATER_TROCHANTER_TIP, *PROXIMAL_FEMUR),
        lambda hip, tip, up, low: joint_angle.ampfa_deg(
            hip=hip, trochanter_tip=tip, shaft_upper=up, shaft_lower=low
        ),
        "medial angle between hip orientation line and proximal femoral shaft line",
    ),
    _frontal(
        Measure.NSA,
        (Landmark.FEMORAL_HEAD_CENTRE, Landmark.FEMORAL_NECK_CENTRE, *PROXIMAL_FEMUR),
        lambda hip, neck, up, low: joint_angle.neck_shaft_angle_deg(
            hip=hip, neck_centre=neck, shaft_upper=up, shaft_lower=low
        ),
        "medial angle between neck axis and proximal femoral shaft line",
    ),
    _frontal(
        Measure.AMA,
        (*FEMUR_AXIS, *DISTAL_FEMUR),
        lambda hip, knee, up, low: joint_angle.ama_deg(hip=hip, knee=knee, shaft_upper=up, shaft_lower=low),
        "angle between femoral mechanical axis and distal femoral shaft line",
    ),
    _frontal(
        Measure.MLDFA,
        (*FEMUR_AXIS, *CONDYLES),
        lambda hip, knee, med, lat: joint_angle.mldfa_deg(
            hip=hip, knee=knee, medial_condyle=med, lateral_condyle=lat
        ),
        "lateral angle between femoral mechanical axis and distal femoral line",
    ),
    _frontal(
        Measure.ALDFA,
        (*DISTAL_FEMUR, *CONDYLES),
        lambda up, low, med, lat: joint_angle.aldfa_deg(
            shaft_upper=up, shaft_lower=low, medial_condyle=med, lateral_condyle=lat
        ),
        "lateral angle between distal femoral shaft line and distal femoral line",
    ),
    _frontal(
        Measure.JLCA,
        (*CONDYLES, *PLATEAU),
        lambda mc, lc, mp, lp: joint_angle.jlca_deg(
            medial_condyle=mc, lateral_condyle=lc, medial_plateau=mp, lateral_plateau=lp
        ),
        "angle between distal femoral and proximal tibial line, opening lateral counted up",
    ),
    _frontal(
        Measure.MPTA,
        (*TIBIA_AXIS, *PLATEAU),
        lambda knee, ankle, med, lat: joint_angle.mpta_deg(
            knee=knee, ankle=ankle, medial_plateau=med, lateral_plateau=lat
        ),
        "medial angle between tibial mechanical axis and proximal tibial line",
    ),
    _frontal(
        Measure.LDTA,
        (*TIBIA_AXIS, *PLAFOND),
        lambda knee, ankle, med, lat: joint_angle.ldta_deg(
            knee=knee, ankle=ankle, medial_plafond=med, lateral_plafond=lat
        ),
        "lateral angle between tibial mechanical axis and ankle line",
    ),
    _sagittal(
        Measure.PDFA,
        (*DISTAL_FEMUR, Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR, Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR),
        lambda up, low, ant, post: joint_angle.pdfa_deg(
            shaft_upper=up, shaft_lower=low, physis_anterior=ant, physis_posterior=post
        ),
        "posterior angle between distal femoral shaft line and the line of the distal physis",
    ),
    _sagittal(
        Measure.PPTA,
        (*PROXIMAL_TIBIA, Landmark.PLATEAU_ANTERIOR, Landmark.PLATEAU_POSTERIOR),
        lambda up, low, ant, post: joint_angle.ppta_deg(
            shaft_upper=up, shaft_lower=low, plateau_anterior=ant, plateau_posterior=post
        ),
        "posterior angle between proximal tibial shaft line and plateau; the slope is 90 degrees less it",
    ),
    _sagittal(
        Measure.ADTA,
        (*DISTAL_TIBIA, Landmark.PLAFOND_ANTERIOR, Landmark.PLAFOND_POSTERIOR),
        lambda up, low, ant, post: joint_angle.adta_deg(
            shaft_upper=up, shaft_lower=low, plafond_anterior=ant, plafond_posterior=post
        ),
        "anterior angle between distal tibial shaft line and plafond",
    ),
    _frontal(
        Measure.FEMUR_LENGTH, FEMUR_AXIS, _length, "distance from femoral head centre to knee centre", "mm"
    ),
    _frontal(
        Measure.TIBIA_LENGTH, TIBIA_AXIS, _length, "distance from tibial knee centre to ankle centre", "mm"
    ),
    _frontal(
        Measure.LEG_LENGTH,
        (Landmark.FEMORAL_HEAD_CENTRE, Landmark.ANKLE_CENTRE),
        _length,
        "distance from femoral head centre to ankle centre",
        "mm",
    ),
    _frontal(
        Measure.KNEE_HEIGHT,
        TIBIA_AXIS,
        lambda knee, ankle: alignment.knee_height_mm(tibia_knee=knee, ankle=ankle),
        "height of the tibial knee centre above the ankle centre, along the film's vertical",
        "mm",
    ),
)
