import pytest

from limbwright.error import OutOfRange
from limbwright.film.phantom import (
    FEMUR_SHAFT,
    Angulation,
    Hardware,
    LegShape,
    Lengthening,
    Nail,
    ShaftSection,
    XraySetup,
    scaled,
)
from limbwright.film.phantom.section import TIBIA_LEVELS, shaft_pairs
from limbwright.limb.anatomy import Bone


def test_an_impossible_leg_is_refused_with_number_and_range():
    with pytest.raises(OutOfRange, match=r"femur_length_mm is 43 mm, expected 150 to 560 mm"):
        LegShape(femur_length_mm=43.0)


def test_a_canal_wider_than_its_bone_is_refused():
    with pytest.raises(OutOfRange, match="canal is 29 mm wide in a shaft of 28 mm"):
        ShaftSection(
            level=0.5,
            outer_mediolateral_mm=28,
            outer_anteroposterior_mm=28,
            canal_mediolateral_mm=29,
            canal_anteroposterior_mm=12,
        )


def test_sections_must_run_down_the_bone():
    with pytest.raises(OutOfRange, match="levels rising from proximal to distal"):
        LegShape(femur_shaft=FEMUR_SHAFT[::-1])


def test_the_fibula_is_not_bent_by_itself():
    with pytest.raises(OutOfRange, match="the fibula bends with it"):
        Angulation(bone=Bone.FIBULA, level=0.5)


def test_deformities_are_kept_from_proximal_to_distal():
    bends = tuple(Angulation(bone=Bone.TIBIA, level=level) for level in (0.7, 0.2))
    assert [bend.level for bend in LegShape(deformities=bends).deformities_of(Bone.TIBIA)] == [0.2, 0.7]


def test_one_cut_per_bone():
    cut = Lengthening(bone=Bone.TIBIA, level=0.4)
    with pytest.raises(OutOfRange, match="at most one osteotomy per bone"):
        Hardware(lengthenings=(cut, cut))


def test_a_nail_thinner_above_than_below_is_refused():
    with pytest.raises(OutOfRange, match="rod must be thinner"):
        Nail(bone=Bone.TIBIA, thick_mm=8.0, thin_mm=10.0)


def test_a_source_behind_the_bone_is_refused():
    with pytest.raises(OutOfRange, match="half the way to the source"):
        XraySetup(source_detector_mm=1000.0, bone_detector_mm=700.0)


def test_scaled_shafts_are_scaled():
    assert scaled(FEMUR_SHAFT, 0.5)[0].outer_mediolateral_mm == FEMUR_SHAFT[0].outer_mediolateral_mm / 2


def test_no_pair_of_shaft_points_spans_a_bend():
    for breaks in ((), (0.3,), (0.5,), (0.12,), (0.9,), (0.35, 0.6), (0.4, 0.42)):
        for pair in shaft_pairs(TIBIA_LEVELS, breaks).values():
            assert pair[0] < pair[1]
            assert not any(pair[0] < level < pair[1] for level in breaks)
