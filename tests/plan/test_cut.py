import numpy as np
import pytest

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.cut import Cut, assembled, cut_leg, split
from limbwright.plan.leg import leg_model
from limbwright.plan.motion import STAY, shift


def model(leg):  # type: ignore[no-untyped-def]
    return leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL))


def across(bone: Bone, level: float) -> Cut:
    return Cut(bone=bone, point_mm=(0.0, level, 0.0), normal=(0.0, 1.0, 0.0))


def test_everything_below_a_femoral_cut_hangs_on_the_distal_fragment(make_leg) -> None:
    above, below = split(model(make_leg()), across(Bone.FEMUR, 180))
    assert Landmark.FEMORAL_HEAD_CENTRE in above.frontal
    assert Landmark.ANKLE_CENTRE in below.frontal
    assert Landmark.FIBULAR_HEAD_TIP in below.frontal
    assert Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR in below.sagittal
    assert {w.bone for w in above.walls} == {Bone.FEMUR}
    assert {w.bone for w in below.walls} == {Bone.FEMUR, Bone.TIBIA}


def test_the_fibula_is_cut_with_the_tibia(make_leg) -> None:
    above, below = split(model(make_leg()), across(Bone.TIBIA, -140))
    assert Landmark.FIBULAR_HEAD_TIP in above.frontal
    assert Landmark.LATERAL_MALLEOLUS_TIP in below.frontal
    assert Landmark.FEMUR_DISTAL_SHAFT_LOWER in above.frontal


@pytest.mark.parametrize(
    ("level", "pair", "where"),
    [
        (-100, "TIBIA_PROXIMAL", "above"),
        (-180, "TIBIA_MIDDLE", "nowhere"),
        (-260, "TIBIA_DISTAL", "below"),
        (-150, "TIBIA_MIDDLE", "below"),
    ],
)
def test_a_shaft_line_stays_whole(make_leg, level, pair, where) -> None:
    parts = dict(zip(("above", "below"), split(model(make_leg()), across(Bone.TIBIA, level)), strict=True))
    for name, part in parts.items():
        for end in ("UPPER", "LOWER"):
            assert (Landmark[f"{pair}_SHAFT_{end}"] in part.frontal) is (name == where)


def test_walls_end_exactly_at_the_cut(make_leg) -> None:
    whole = model(make_leg())
    above, below = split(whole, across(Bone.TIBIA, -142))
    tibial = [w for w in above.walls if w.bone is Bone.TIBIA]
    assert {w.fragment for w in tibial} == {Fragment.PROXIMAL}
    assert all(w.proximal_mm[-1] == pytest.approx(-142) for w in tibial)
    assert all(w.proximal_mm[0] == pytest.approx(-142) for w in below.walls)
    inner = next(w for w in whole.walls if w.bone is Bone.TIBIA)
    a = np.interp(-142.0, inner.proximal_mm[::-1], inner.lateral_mm[::-1])
    assert tibial[0].lateral_mm[-1] == pytest.approx(a)


def test_a_wall_that_ends_above_the_cut_belongs_to_one_fragment_only(make_leg) -> None:
    _above, below = split(model(make_leg()), across(Bone.TIBIA, -342))
    assert below.walls == ()


def test_parts_put_together_unmoved_are_the_leg(make_leg) -> None:
    whole = model(make_leg())
    parts = cut_leg(whole, [across(Bone.FEMUR, 180), across(Bone.TIBIA, -140)])
    again = assembled(parts, [STAY, STAY, STAY])
    assert again.frontal == whole.frontal
    assert again.sagittal == whole.sagittal


def test_two_bones_lengthened_move_the_ankle_twice(make_leg) -> None:
    parts = cut_leg(model(make_leg()), [across(Bone.FEMUR, 180), across(Bone.TIBIA, -140)])
    again = assembled(parts, [STAY, shift([0, -30, 0]), shift([0, -50, 0])])
    assert again.place_mm(Landmark.FEMUR_KNEE_CENTRE) == pytest.approx([0, -30, 0])
    assert again.place_mm(Landmark.ANKLE_CENTRE) == pytest.approx([0, -410, 0])


@pytest.mark.parametrize("level", [10.0, -361.0])
def test_a_cut_outside_the_bone_is_refused(make_leg, level) -> None:
    with pytest.raises(OutOfRange, match="does not pass between the joints of the tibia"):
        split(model(make_leg()), across(Bone.TIBIA, level))
