"""What the choice of bone rests on, from hand-made deformities."""

from dataclasses import replace

import pytest

from limbwright.case.case import Case
from limbwright.case.measured import measured_case
from limbwright.case.patient import Patient
from limbwright.case.situation import BoneDeformity, deformities, situation
from limbwright.error import Missing
from limbwright.film.film import CalibrationType, Film, HeaderScale, Mark, ScaleEvidence, ViewerSide
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.plan.circumstances import Examination
from limbwright.practice.profile import Profile
from limbwright.quantity import Directed, Measured, Sense

MM = ScaleEvidence(header=HeaderScale(pixel_spacing_mm=(1.0, 1.0), calibration_type=CalibrationType.FIDUCIAL))


def marks(points: dict[str, tuple[float, float]], *, x0: float, sign: float) -> dict[Landmark, Mark]:
    """Points (across, proximal) in mm as marks on a film of 1 mm per pixel with the hip at row 50."""
    return {Landmark(n): Mark(x_px=x0 + sign * a, y_px=500.0 - p, sd_px=0.3) for n, (a, p) in points.items()}


def frontal(tibia_mm: float, *, bent: float = 0.0) -> dict[str, tuple[float, float]]:
    """A straight leg whose tibia turns 100 mm below the knee: `bent` mm toward lateral at the ankle."""
    slope = bent / (tibia_mm - 100.0)

    def tibia(depth: float) -> tuple[float, float]:
        return (max(0.0, depth - 100.0) * slope, -depth)

    ankle = tibia(tibia_mm)
    return {
        "femoral_head_centre": (0.0, 430.0),
        "greater_trochanter_tip": (55.0, 430.0),
        "femur_proximal_shaft_upper": (38.0, 330.0),
        "femur_proximal_shaft_lower": (29.0, 250.0),
        "femur_distal_shaft_upper": (20.0, 170.0),
        "femur_distal_shaft_lower": (11.0, 90.0),
        "femur_knee_centre": (0.0, 0.0),
        "tibia_knee_centre": (0.0, 0.0),
        "medial_femoral_condyle": (-22.0, -5.0),
        "lateral_femoral_condyle": (22.0, -3.5),
        "medial_plateau": (-22.0, -11.0),
        "lateral_plateau": (22.0, -9.0),
        "tibia_proximal_shaft_upper": tibia(50.0),
        "tibia_proximal_shaft_lower": tibia(95.0),
        "tibia_distal_shaft_upper": tibia(150.0),
        "tibia_distal_shaft_lower": tibia(tibia_mm - 40.0),
        "medial_plafond": (ankle[0] - 12.0, ankle[1] - 12.0 * slope),
        "lateral_plafond": (ankle[0] + 12.0, ankle[1] + 12.0 * slope),
        "ankle_centre": ankle,
    }


def case_of(examination: Examination | None = None, *, other_shown: bool = True) -> Case:
    right = marks(frontal(310.0, bent=-42.0), x0=250.0, sign=-1.0)
    left = marks(frontal(345.0), x0=550.0, sign=1.0) if other_shown else {}
    film = Film(
        name="frontal",
        projection=Projection.FRONTAL,
        width_px=800,
        height_px=1000,
        right_side_at=ViewerSide.VIEWER_LEFT,
        scale=MM,
        right=right,
        left=left,
    )
    return Case(
        id="c",
        side=Side.RIGHT,
        patient=Patient(id="P", sex=Sex.MALE, age_years=30.0),
        films=(film,),
        examination=examination or Examination(),
    )


def test_shortening_and_apex_come_from_the_films() -> None:
    case = case_of()
    measured = measured_case(case)
    found = situation(case, measured, deformities(measured), Profile())
    assert found.tibia.short_mm == pytest.approx(345.0 - (310.0**2 + 42.0**2) ** 0.5, abs=0.5)
    assert found.femur.short_mm == pytest.approx(0.0, abs=1e-6)
    (bend,) = found.tibia.angulations
    # tan(angle) = 42 / 210; the ankle lies medial of where the upper tibia points: varus.
    assert bend.frontal_deg == pytest.approx(11.31, abs=0.01)
    assert bend.below_joint_mm == pytest.approx(100.0, abs=0.01)


def test_rotation_is_signed_by_its_word() -> None:
    turned = Directed(magnitude=14.0, direction=Sense.INTERNAL, unit="deg")
    case = case_of(Examination(tibia_rotation=turned))
    measured = measured_case(case)
    found = situation(case, measured, deformities(measured), Profile())
    assert found.tibia.rotation_deg == -14.0
    assert found.femur.rotation_deg is None


def test_without_the_other_leg_no_shortening_is_guessed() -> None:
    case = case_of(other_shown=False)
    measured = measured_case(case)
    with pytest.raises(Missing, match="other leg"):
        situation(case, measured, deformities(measured), Profile())


def test_a_plane_without_film_says_so() -> None:
    measured = measured_case(case_of())
    tibia = next(d for d in deformities(measured) if d.bone is Bone.TIBIA)
    assert tibia.sagittal is None
    assert any("sagittal" in reason for reason in tibia.not_found)
    assert tibia.planes() == (tibia.frontal,)


def test_a_normal_bow_of_the_femur_is_no_deformity() -> None:
    measured = measured_case(case_of())
    femur = next(d for d in deformities(measured) if d.bone is Bone.FEMUR)
    tibia = next(d for d in deformities(measured) if d.bone is Bone.TIBIA)
    assert tibia.frontal is not None
    bowed: BoneDeformity = replace(femur, sagittal=tibia.frontal, frontal=None)
    case = case_of()
    total = tibia.frontal.total
    for bow, expected in ((total.value, 0), (total.value - 9.0, 1)):
        other = Measured(value=bow, sd=0.5, unit="deg")
        found = situation(case, measured, (replace(bowed, other_bow=other), tibia), Profile())
        assert len(found.femur.angulations) == expected
    (beyond,) = found.femur.angulations
    assert beyond.sagittal_deg == pytest.approx(9.0)
    unknown = situation(case, measured, (replace(bowed, other_bow=None), tibia), Profile())
    assert unknown.femur.angulations == ()
