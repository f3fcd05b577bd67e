"""What the choice of bone rests on, from hand-made deformities."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from limbwright.case.case import Case
from limbwright.case.measured import measured_case
from limbwright.case.situation import BoneDeformity, deformities, situation
from limbwright.error import Missing
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.practice.profile import Profile
from limbwright.quantity import Directed, Measured, Sense

Drawn = Callable[..., Case]


def test_shortening_and_apex_come_from_the_films(case_of: Drawn) -> None:
    case = case_of()
    measured = measured_case(case)
    found = situation(case, measured, deformities(measured), Profile())
    assert found.tibia.short_mm == pytest.approx(350.0 - (315.0**2 + 36.0**2) ** 0.5, abs=0.5)
    assert found.femur.short_mm == pytest.approx(0.0, abs=1e-6)
    (bend,) = found.tibia.angulations
    # tan(angle) = 36 / 185; the ankle lies medial of where the upper tibia points: varus.
    assert bend.frontal_deg == pytest.approx(11.01, abs=0.01)
    assert bend.below_joint_mm == pytest.approx(130.0, abs=0.1)


def test_rotation_is_signed_by_its_word(case_of: Drawn) -> None:
    turned = Directed(magnitude=14.0, direction=Sense.INTERNAL, unit="deg")
    case = case_of(examination=Examination(tibia_rotation=turned))
    measured = measured_case(case)
    found = situation(case, measured, deformities(measured), Profile())
    assert found.tibia.rotation_deg == -14.0
    assert found.femur.rotation_deg is None


def test_without_the_other_leg_no_shortening_is_guessed(case_of: Drawn) -> None:
    case = case_of(other_shown=False)
    measured = measured_case(case)
    with pytest.raises(Missing, match="other leg"):
        situation(case, measured, deformities(measured), Profile())


def test_a_plane_without_film_says_so(case_of: Drawn) -> None:
    measured = measured_case(case_of())
    tibia = next(d for d in deformities(measured) if d.bone is Bone.TIBIA)
    assert tibia.sagittal is None
    assert any("sagittal" in reason for reason in tibia.not_found)
    assert tibia.planes() == (tibia.frontal,)


def test_a_normal_bow_of_the_femur_is_no_deformity(case_of: Drawn) -> None:
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
