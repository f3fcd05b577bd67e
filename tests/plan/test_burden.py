import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.limb.anatomy import Bone
from limbwright.plan.burden import JointRisk, bone_burden, joint_risks, strategy_figure
from limbwright.plan.circumstances import Examination, JointState
from limbwright.practice.profile import Profile

STIFF = Examination(
    hip=JointState.UNSTABLE,
    hip_centre_edge_deg=12,
    knee=JointState.UNSTABLE,
    knee_flexion_deg=80,
    knee_extension_loss_deg=20,
    ankle=JointState.UNSTABLE,
    ankle_dorsiflexion_deg=-5,
)


def burden(lengthening_mm: float, *, length_mm: float = 400, risks: tuple[JointRisk, ...] = ()) -> float:
    return bone_burden(
        bone=Bone.TIBIA,
        lengthening_mm=lengthening_mm,
        bone_length_mm=length_mm,
        stage_limit_mm=60,
        percent_limit=20,
        joint_risk_weight=0.25,
        joint_risks=risks,
    ).index


def test_the_index_is_one_at_the_limit() -> None:
    assert burden(60) == pytest.approx(1.0)
    assert burden(50, length_mm=250) == pytest.approx(1.0)  # 20 % of a short bone


def test_joints_at_risk_add_to_it_and_nothing_gained_costs_nothing() -> None:
    assert burden(30, risks=(JointRisk.EQUINUS,)) == pytest.approx(0.75)
    assert burden(0, risks=(JointRisk.EQUINUS,)) == 0


@given(a=st.floats(0, 120), b=st.floats(0, 120), length=st.floats(200, 500))
def test_more_lengthening_never_burdens_less_and_a_longer_bone_never_more(
    a: float, b: float, length: float
) -> None:
    low, high = sorted((a, b))
    assert burden(low, length_mm=length) <= burden(high, length_mm=length)
    assert burden(high, length_mm=length + 50) <= burden(high, length_mm=length)


def test_each_bone_has_the_joints_beside_it() -> None:
    profile = Profile()
    assert joint_risks(Bone.FEMUR, STIFF, profile) == (
        JointRisk.HIP_UNSTABLE,
        JointRisk.HIP_DYSPLASTIC,
        JointRisk.KNEE_UNSTABLE,
        JointRisk.KNEE_STIFF,
        JointRisk.KNEE_CONTRACTED,
    )
    assert joint_risks(Bone.TIBIA, STIFF, profile) == (
        JointRisk.KNEE_UNSTABLE,
        JointRisk.KNEE_CONTRACTED,
        JointRisk.ANKLE_UNSTABLE,
        JointRisk.EQUINUS,
    )


def test_what_was_not_examined_is_no_risk() -> None:
    assert joint_risks(Bone.FEMUR, Examination(), Profile()) == ()
    assert joint_risks(Bone.TIBIA, Examination(), Profile()) == ()


def test_a_fused_joint_is_no_risk() -> None:
    fused = Examination(
        hip=JointState.FUSED,
        knee=JointState.FUSED,
        ankle=JointState.FUSED,
        hip_centre_edge_deg=5,
        knee_flexion_deg=0,
        knee_extension_loss_deg=20,
        ankle_dorsiflexion_deg=-10,
    )
    assert joint_risks(Bone.FEMUR, fused, Profile()) == ()
    assert joint_risks(Bone.TIBIA, fused, Profile()) == ()


def test_figures_are_read_by_name() -> None:
    assert strategy_figure("retrograde_from_share") == 60
    with pytest.raises(KeyError, match="no such figure"):
        strategy_figure("no such figure")
