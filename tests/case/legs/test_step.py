"""A tibia whose lower part stands beside the upper one, parallel to it: the step is seen and taken out."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from limbwright.case.case import Case
from limbwright.case.planned import planned_case
from limbwright.film.film import Mark
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile

BELOW = (
    Landmark.TIBIA_DISTAL_SHAFT_UPPER,
    Landmark.TIBIA_DISTAL_SHAFT_LOWER,
    Landmark.MEDIAL_PLAFOND,
    Landmark.LATERAL_PLAFOND,
    Landmark.ANKLE_CENTRE,
)


@pytest.fixture
def stepped(case_of: Callable[..., Case]) -> Case:
    """The drawn case, its right tibia 320 mm long and stepped 10 mm outward between 120 and 150 mm."""
    case = case_of(treated_mm=320.0, bent_mm=0.0)
    film = case.films[0]
    moved = {m: Mark(x_px=film.right[m].x_px - 10.0, y_px=film.right[m].y_px, sd_px=0.3) for m in BELOW}
    return replace(case, films=(replace(film, right={**film.right, **moved}),))


def test_a_step_is_seen_with_its_level_and_taken_out(stepped: Case) -> None:
    found = planned_case(stepped, Profile(), shipped_catalogue())
    (step,) = found.situation.tibia.angulations
    assert step.lateral_mm == pytest.approx(10.0, abs=0.1)
    assert step.frontal_deg == pytest.approx(0.0, abs=0.1)
    assert step.below_joint_mm == pytest.approx(135.0, abs=2.0)
    assert found.plan is not None
    assert found.outlook is not None
    (face,) = found.outlook.cut_faces
    assert face.shift_lateral_mm == pytest.approx(-10.0, abs=0.3)
    assert face.angulation_deg < 0.3
    stands, end = (found.outlook.stage(s) for s in (StageName.AS_IT_STANDS, StageName.FULL_LENGTH))
    before, after = (stage.value(Measure.MAD) for stage in (stands, end))
    assert before is not None
    assert after is not None
    assert abs(before - after) > 4
    assert abs(after) < 3
