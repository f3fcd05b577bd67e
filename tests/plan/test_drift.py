import numpy as np
import pytest

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.limb.view import Border
from limbwright.plan.cut import Cut
from limbwright.plan.drift import (
    CONCAVE,
    Drift,
    Third,
    drift_motion,
    expected_drift,
    fragment_tilt_deg,
    third_of,
    toggle_angle_deg,
)
from limbwright.plan.motion import STAY
from limbwright.plan.reduction import Reduction
from limbwright.quantity import Sense


def test_the_proximal_tibia_drifts_into_valgus_and_procurvatum() -> None:
    drift = expected_drift(Bone.TIBIA, Third.PROXIMAL)
    assert drift.senses() == (Sense.VALGUS, Sense.PROCURVATUM)
    assert "2020" in drift.source.text


def test_every_level_of_femur_and_tibia_is_listed_with_a_source() -> None:
    for bone in (Bone.FEMUR, Bone.TIBIA):
        for third in Third:
            assert expected_drift(bone, third).source.text


def test_the_fibula_has_no_published_drift() -> None:
    with pytest.raises(OutOfRange, match="no drift is published for the distal third of the fibula"):
        expected_drift(Bone.FIBULA, Third.DISTAL)


def test_thirds() -> None:
    assert [third_of(x, 300) for x in (0, 99, 101, 199, 201, 300)] == [
        Third.PROXIMAL,
        Third.PROXIMAL,
        Third.MIDDLE,
        Third.MIDDLE,
        Third.DISTAL,
        Third.DISTAL,
    ]
    with pytest.raises(OutOfRange, match=r"-1\.0 mm lies outside the bone"):
        third_of(-1, 300)


def test_a_nail_as_wide_as_the_canal_cannot_tilt() -> None:
    assert toggle_angle_deg([10.7, 10.0], 10.7, 60) == pytest.approx([0, 0])
    assert fragment_tilt_deg(-1.0, 0.0, 60) == 0


def test_the_pair_of_contacts_gives_the_toggle_angle_of_a_straight_canal() -> None:
    assert fragment_tilt_deg(4.65, 4.65, 60) == pytest.approx(toggle_angle_deg(20, 10.7, 60))


def test_the_concave_sides_are_those_a_screw_stands_on() -> None:
    assert CONCAVE[Sense.VALGUS] is Border.LATERAL
    assert CONCAVE[Sense.PROCURVATUM] is Border.POSTERIOR


def reduced_at(depth_mm: float) -> Reduction:
    """A cut across the nail, nothing corrected; the nail runs straight down."""
    cut = Cut(bone=Bone.TIBIA, point_mm=(0.0, -depth_mm, 0.0), normal=(0.0, 1.0, 0.0))
    return Reduction(cut=cut, motion=STAY, along=(0.0, -1.0, 0.0))


def test_a_drift_turns_the_distal_fragment_about_its_own_cut_face() -> None:
    motion = drift_motion(Drift(varus_deg=-3), reduced_at(120), 30)
    assert motion.moved([0, -150, 0]) == pytest.approx([0, -150, 0])
    ankle = motion.moved([0, -390, 0])
    assert ankle[2] == pytest.approx(240 * np.sin(np.radians(3)))  # valgus carries the ankle laterally


def test_a_shift_moves_all_of_the_distal_fragment_and_is_told_along_it() -> None:
    drift = Drift(varus_deg=-3, procurvatum_deg=2, lateral_mm=1.5, anterior_mm=-0.5)
    motion = drift_motion(drift, reduced_at(120), 30)
    assert motion.moved([0, -150, 0]) == pytest.approx([-0.5, -150, 1.5])
    lateral, anterior = drift.shift_mm(240)
    assert (lateral, anterior) == pytest.approx(
        (motion.moved([0, -390, 0])[2], motion.moved([0, -390, 0])[0]), abs=0.05
    )
    assert lateral > 1.5  # valgus adds
    assert anterior < -0.5  # procurvatum carries the far end backward
