import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.soft_tissue import (
    CalfRelease,
    EquinusRisk,
    SoftTissue,
    calf_release_decision,
    equinus_risk,
    soft_tissue,
)
from limbwright.practice.profile import Profile


def risk(
    lengthening: float = 30, *, tibia: float = 350, straight: float | None = 10, bent: float | None = None
) -> EquinusRisk:
    return equinus_risk(
        lengthening_mm=lengthening,
        tibia_length_mm=tibia,
        dorsiflexion_deg=straight,
        dorsiflexion_knee_bent_deg=bent,
        length_limit_mm=40,
        percent_limit=13,
        equinus_limit_deg=0,
    )


def planned(
    lengthening: float = 30,
    *,
    bone: Bone = Bone.TIBIA,
    chosen: bool | None = None,
    examination: Examination | None = None,
    length: float = 350,
    profile: Profile | None = None,
) -> SoftTissue:
    return soft_tissue(
        bone=bone,
        lengthening_mm=lengthening,
        bone_length_mm=length,
        valgus_taken_out_deg=0,
        flexion_taken_out_deg=0,
        calf_release_chosen=chosen,
        examination=examination or Examination(ankle_dorsiflexion_deg=10),
        profile=profile or Profile(),
    )


def ids(found: SoftTissue) -> list[str]:
    return [f.id for f in found.findings]


def test_each_reason_for_equinus() -> None:
    assert not risk().likely
    assert risk(41).over_length
    assert not risk(40).over_length
    assert risk(35, tibia=260).over_percent
    assert risk(straight=-1).equinus_now
    assert risk(straight=0).equinus_now is False
    assert risk(straight=None).equinus_now is None


def test_bending_the_knee_tells_the_muscles_apart() -> None:
    assert risk(straight=-5, bent=8).calf_only is True
    assert risk(straight=-5, bent=-4).calf_only is False
    assert risk(straight=-5).calf_only is None
    assert risk(straight=5, bent=10).calf_only is None


@given(a=st.floats(0, 90), b=st.floats(0, 90))
def test_more_lengthening_never_makes_a_release_less_likely(a: float, b: float) -> None:
    low, high = (risk(x).likely for x in sorted((a, b)))
    assert low <= high


@pytest.mark.parametrize(
    ("lengthening", "chosen", "timing", "expected"),
    [
        (30, None, "staged", CalfRelease.NOT_NEEDED),
        (45, None, "staged", CalfRelease.STAGED),
        (45, None, "at the operation", CalfRelease.AT_OPERATION),
        (45, False, "at the operation", CalfRelease.DECLINED),
        (30, False, "staged", CalfRelease.NOT_NEEDED),
        (30, True, "staged", CalfRelease.AT_OPERATION),
    ],
)
def test_the_decision_is_the_surgeons_else_the_practices(
    lengthening: float, chosen: bool | None, timing: str, expected: CalfRelease
) -> None:
    assert calf_release_decision(risk(lengthening), chosen=chosen, timing=timing) is expected


def test_a_likely_release_says_why_and_what_was_decided() -> None:
    found = planned(48, examination=Examination(ankle_dorsiflexion_deg=-4))
    words = next(f.words for f in found.findings if f.id == "calf-release-likely")
    assert "48 mm of lengthening, above 40 mm" in words
    assert "13.7 % of the tibia, above 13 %" in words
    assert "equinus of 4 degrees already" in words
    assert "staged" in words
    assert found.calf_release is CalfRelease.STAGED


def test_published_odds_are_shown_whatever_the_practices_limits() -> None:
    lenient = Profile(calf_release_lengthening_mm=60, calf_release_percent_of_tibia=20)
    found = planned(46, profile=lenient)
    assert "calf-release-likely" not in ids(found)
    words = next(f.words for f in found.findings if f.id == "calf-release-odds")
    assert "41 of 82" in words
    assert "4.1 times higher (95 % interval 1.8 to 9.4)" in words
    assert "3.9 times" in words
    assert "calf-release-odds" not in ids(planned(42, length=340 * 42 / 41))


def test_an_ankle_not_examined_is_pointed_out() -> None:
    assert "ankle-not-examined" in ids(planned(examination=Examination()))
    assert "ankle-not-examined" not in ids(planned())


def test_which_muscle_is_a_note() -> None:
    free = Examination(ankle_dorsiflexion_deg=-5, ankle_dorsiflexion_knee_bent_deg=5)
    stiff = Examination(ankle_dorsiflexion_deg=-5, ankle_dorsiflexion_knee_bent_deg=-5)
    for examination, muscle in ((free, "gastrocnemius alone"), (stiff, "gastrocnemius and soleus")):
        found = planned(examination=examination)
        assert muscle in next(f.words for f in found.findings if f.id == "equinus-which-muscle")
    assert "equinus-which-muscle" not in ids(planned())


def test_femur_and_fused_ankle_have_no_calf_release() -> None:
    femur = planned(bone=Bone.FEMUR)
    fused = planned(60, examination=Examination(ankle=JointState.FUSED))
    assert (femur.equinus, femur.calf_release) == (None, None)
    assert (fused.equinus, fused.calf_release) == (None, None)


@pytest.mark.parametrize(
    ("bone", "loss", "expected"),
    [(Bone.FEMUR, 19, False), (Bone.FEMUR, 20, True), (Bone.TIBIA, 9, False), (Bone.TIBIA, 10, True)],
)
def test_contracture_by_bone(bone: Bone, loss: float, expected: bool) -> None:
    found = planned(bone=bone, examination=Examination(knee_extension_loss_deg=loss))
    assert ("knee-contracture" in ids(found)) is expected


def test_knee_flexion_for_the_femur() -> None:
    def severity(flexion: float, bone: Bone = Bone.FEMUR) -> str | None:
        found = planned(bone=bone, examination=Examination(knee_flexion_deg=flexion))
        return next((f.severity for f in found.findings if f.id == "knee-stiff-for-femur"), None)

    assert severity(90) is None
    assert severity(80) == "caution"
    assert severity(39) == "stop"
    assert severity(39, Bone.TIBIA) is None
    fused = Examination(knee=JointState.FUSED, knee_flexion_deg=0, knee_extension_loss_deg=20)
    assert "knee-stiff-for-femur" not in ids(planned(bone=Bone.FEMUR, examination=fused))
    assert "knee-contracture" not in ids(planned(bone=Bone.FEMUR, examination=fused))
