from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.finding import Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.fibula import (
    FibularPlan,
    distal_screw_above_plafond_mm,
    fibular_osteotomy_below_plateau_mm,
    fibular_plan,
)
from limbwright.plan.fibula_finding import TibialLevels
from limbwright.practice.profile import Profile

LEVELS = TibialLevels(
    tibia_length_mm=350,
    osteotomy_below_plateau_mm=120,
    fibular_head_below_plateau_mm=12,
    malleolus_below_plafond_mm=18,
    nail_tip_above_plafond_mm=60,
)


def planned(levels: TibialLevels = LEVELS, **profile: float) -> FibularPlan:
    return fibular_plan(Bone.TIBIA, levels, lengthening_mm=40, profile=Profile(**profile))


def ids(found: FibularPlan) -> list[str]:
    return [f.id for f in found.findings]


def level(cut: float, *, share: float = 67, tibia: float = 350, apart: float = 30) -> float:
    return fibular_osteotomy_below_plateau_mm(
        tibia_length_mm=tibia,
        head_below_plateau_mm=10,
        malleolus_below_plafond_mm=20,
        share_percent=share,
        min_above_ankle_mm=70,
        tibial_cut_below_plateau_mm=cut,
        min_to_tibial_cut_mm=apart,
    )


def test_the_femur_leaves_the_fibula_alone() -> None:
    found = fibular_plan(Bone.FEMUR, LEVELS, lengthening_mm=40, profile=Profile())
    assert found.fixation is None
    assert found.findings == ()


def test_levels_and_screws() -> None:
    found = planned()
    assert found.fixation is not None
    # 67 % of a fibula from 12 mm below the plateau to 18 mm below the plafond, 356 mm long.
    assert found.osteotomy_below_plateau_mm == pytest.approx(12 + 0.67 * 356)
    assert found.fixation.osteotomy_above_ankle_mm == pytest.approx(0.33 * 356)
    assert found.osteotomy_above_plafond_mm == pytest.approx(350 - 12 - 0.67 * 356)
    assert found.to_tibial_cut_mm == pytest.approx(12 + 0.67 * 356 - 120)
    assert found.fixation.proximal_screw_below_plateau_mm == pytest.approx(20)
    assert found.fixation.distal_screw_above_plafond_mm == pytest.approx(35)
    assert (found.fixation.screw_diameter_mm, found.fixation.cortices) == (4.5, 4)
    assert "30 degrees" in found.proximal_course
    assert "peroneal nerve" in found.proximal_course
    assert ids(found) == ["fibula-proximal-screw-why", "fibula-distal-screw-why"]


def test_the_cut_keeps_away_from_the_tibial_one() -> None:
    wanted = 10 + 0.67 * 360
    assert level(120) == pytest.approx(wanted)
    assert level(wanted - 10) == pytest.approx(wanted + 20)  # moved down, still clear of the ankle
    assert level(wanted + 10) == pytest.approx(wanted - 20)
    assert level(275) == pytest.approx(245)  # down would come too near the ankle


@given(cut=st.floats(70, 280), share=st.floats(20, 90), tibia=st.floats(280, 420), apart=st.floats(0, 60))
def test_the_cut_is_never_nearer_than_allowed(cut: float, share: float, tibia: float, apart: float) -> None:
    found = level(cut, share=share, tibia=tibia, apart=apart)
    assert abs(found - cut) >= apart - 1e-9
    assert found <= tibia - 70 + 1e-9


def test_a_moved_cut_is_pointed_out() -> None:
    moved = planned(replace(LEVELS, osteotomy_below_plateau_mm=250))
    assert "fibula-osteotomy-moved" in ids(moved)
    assert moved.to_tibial_cut_mm == pytest.approx(30)


def test_the_proximal_screw_clears_a_low_fibular_head() -> None:
    found = planned(replace(LEVELS, fibular_head_below_plateau_mm=25))
    assert found.fixation is not None
    assert found.fixation.proximal_screw_below_plateau_mm == pytest.approx(29.5)


def test_tips_not_marked_are_taken_from_the_norm_and_said() -> None:
    found = planned(replace(LEVELS, fibular_head_below_plateau_mm=None, malleolus_below_plafond_mm=None))
    words = next(f.words for f in found.findings if f.id == "fibula-tip-not-marked")
    assert "fibular head and of the lateral malleolus" in words
    assert found.osteotomy_below_plateau_mm == pytest.approx(10 + 0.67 * 360)


def test_the_distal_screw_goes_below_the_nail_where_there_is_room() -> None:
    def screw(tip: float | None, wanted: float = 35) -> float:
        return distal_screw_above_plafond_mm(
            wanted_mm=wanted,
            lowest_mm=20,
            highest_mm=50,
            nail_tip_above_plafond_mm=tip,
            clearance_mm=3,
            screw_diameter_mm=4.5,
        )

    assert screw(60) == 35
    assert screw(35) == pytest.approx(35 - 3 - 2.25)
    assert screw(20) == 35  # no room below; a finding says so
    assert screw(None) == 35
    assert screw(None, wanted=80) == 50
    assert screw(None, wanted=5) == 20


def test_a_screw_beside_the_nail_is_pointed_out() -> None:
    assert "fibula-distal-screw-beside-nail" in ids(planned(replace(LEVELS, nail_tip_above_plafond_mm=20)))
    assert "fibula-distal-screw-beside-nail" not in ids(
        planned(replace(LEVELS, nail_tip_above_plafond_mm=30))
    )


def test_a_profile_without_screws_is_warned_with_figures() -> None:
    found = planned(tibiofibular_proximal_screws=0, tibiofibular_distal_screws=0)
    missing = next(f for f in found.findings if f.id == "fibula-proximal-screw-missing")
    assert missing.severity is Severity.CAUTION
    assert "19 mm" in missing.words
    distal = next(f for f in found.findings if f.id == "fibula-distal-screw-why")
    assert distal.severity is Severity.CAUTION
    assert "no distal tibiofibular screw" in distal.words


def test_an_osteotomy_above_the_proximal_screw_is_a_stop() -> None:
    found = planned(replace(LEVELS, osteotomy_below_plateau_mm=18))
    assert "fibula-proximal-screw-below-cut" in ids(found)
    assert found.findings[0].severity is Severity.STOP


def test_no_room_for_the_fibular_cut_is_a_stop() -> None:
    short = TibialLevels(
        tibia_length_mm=130,
        osteotomy_below_plateau_mm=50,
        fibular_head_below_plateau_mm=12,
        malleolus_below_plafond_mm=18,
    )
    found = planned(short)
    assert "fibula-osteotomy-no-room" in ids(found)


def test_levels_outside_the_bone_are_refused() -> None:
    with pytest.raises(OutOfRange, match="tibial osteotomy below the plateau is 400 mm, expected 0 to 350"):
        planned(replace(LEVELS, osteotomy_below_plateau_mm=400))
    with pytest.raises(OutOfRange, match="tibia length is 50 mm"):
        planned(replace(LEVELS, tibia_length_mm=50))
