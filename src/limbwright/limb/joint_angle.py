"""Joint-orientation angles as pure functions of points; each is one statement of the textbooks.

Every function takes points of the limb plane frame and returns degrees. The letters are the trade's own:
m or a for the mechanical or anatomic axis, M, L, A or P for the side the angle is measured on, P or D for
proximal or distal, F or T for femur or tibia. Definitions: Paley & Tetsworth 1992; Paley, Principles of
Deformity Correction, 2002, chapter 1 (from memory).
"""

from limbwright.limb.lines import Point, angle_between_deg, lean_deg, tilt_deg, wrapped_deg


def mldfa_deg(*, hip: Point, knee: Point, medial_condyle: Point, lateral_condyle: Point) -> float:
    """Mechanical lateral distal femoral angle: femoral mechanical axis to distal femoral line, lateral."""
    return angle_between_deg(knee, hip, medial_condyle, lateral_condyle)


def aldfa_deg(
    *, shaft_upper: Point, shaft_lower: Point, medial_condyle: Point, lateral_condyle: Point
) -> float:
    """Anatomic lateral distal femoral angle: distal femoral shaft line to distal femoral line, lateral."""
    return angle_between_deg(shaft_lower, shaft_upper, medial_condyle, lateral_condyle)


def mpta_deg(*, knee: Point, ankle: Point, medial_plateau: Point, lateral_plateau: Point) -> float:
    """Medial proximal tibial angle: tibial mechanical axis to proximal tibial line, medial side."""
    return angle_between_deg(knee, ankle, lateral_plateau, medial_plateau)


def ldta_deg(*, knee: Point, ankle: Point, medial_plafond: Point, lateral_plafond: Point) -> float:
    """Lateral distal tibial angle: tibial mechanical axis to ankle line, lateral side."""
    return angle_between_deg(ankle, knee, medial_plafond, lateral_plafond)


def jlca_deg(
    *, medial_condyle: Point, lateral_condyle: Point, medial_plateau: Point, lateral_plateau: Point
) -> float:
    """Joint line convergence angle: distal femoral line against proximal tibial line, opening lateral +."""
    return wrapped_deg(tilt_deg(medial_condyle, lateral_condyle) - tilt_deg(medial_plateau, lateral_plateau))


def mlpfa_deg(*, hip: Point, trochanter_tip: Point, knee: Point) -> float:
    """Mechanical lateral proximal femoral angle: hip orientation line to femoral mechanical axis, lateral."""
    return angle_between_deg(hip, trochanter_tip, hip, knee)


def ampfa_deg(*, hip: Point, trochanter_tip: Point, shaft_upper: Point, shaft_lower: Point) -> float:
    """Anatomic medial proximal femoral angle: hip orientation line to proximal femoral shaft line, medial."""
    return angle_between_deg(trochanter_tip, hip, shaft_upper, shaft_lower)


def neck_shaft_angle_deg(*, hip: Point, neck_centre: Point, shaft_upper: Point, shaft_lower: Point) -> float:
    """Neck-shaft angle: axis of the femoral neck to proximal femoral shaft line, medial side."""
    return angle_between_deg(neck_centre, hip, shaft_upper, shaft_lower)


def ama_deg(*, hip: Point, knee: Point, shaft_upper: Point, shaft_lower: Point) -> float:
    """Angle of the femoral mechanical axis to the distal femoral shaft line; + as in a normal femur.

    Positive when the shaft line runs from proximal lateral to distal medial of the mechanical axis, so
    that aLDFA = mLDFA - AMA.
    """
    return wrapped_deg(lean_deg(hip, knee) - lean_deg(shaft_upper, shaft_lower))


def pdfa_deg(
    *, shaft_upper: Point, shaft_lower: Point, physis_anterior: Point, physis_posterior: Point
) -> float:
    """Posterior distal femoral angle: distal femoral shaft line to the line of the physis, posterior side."""
    return angle_between_deg(shaft_lower, shaft_upper, physis_anterior, physis_posterior)


def ppta_deg(
    *, shaft_upper: Point, shaft_lower: Point, plateau_anterior: Point, plateau_posterior: Point
) -> float:
    """Posterior proximal tibial angle: proximal tibial shaft line to plateau, posterior; slope 90 - PPTA."""
    return angle_between_deg(shaft_upper, shaft_lower, plateau_anterior, plateau_posterior)


def adta_deg(
    *, shaft_upper: Point, shaft_lower: Point, plafond_anterior: Point, plafond_posterior: Point
) -> float:
    """Anterior distal tibial angle: distal tibial shaft line to plafond, anterior side."""
    return angle_between_deg(shaft_lower, shaft_upper, plafond_posterior, plafond_anterior)
