from dataclasses import replace

import pytest

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark, bone_of, plain_words, shown_in
from limbwright.limb.view import Border, Surface, Wall


def test_a_missing_landmark_says_where_and_what_to_do(frontal):
    with pytest.raises(Missing, match="right leg, frontal film: landmark 'tibial tuberosity' is not marked"):
        frontal().spot(Landmark.TIBIAL_TUBEROSITY)


def test_rescaling_scales_points_and_walls(frontal):
    wall = Wall(
        bone=Bone.TIBIA,
        surface=Surface.OUTER,
        border=Border.LATERAL,
        across_mm=(1.0, 2.0),
        proximal_mm=(9.0, 8.0),
        sd_mm=0.5,
    )
    view = replace(frontal(), walls=(wall,)).rescaled(2.0)
    assert view.walls[0].across_mm == (2.0, 4.0)
    assert view.walls[0].proximal_mm == (18.0, 16.0)
    assert view.spot(Landmark.FEMORAL_HEAD_CENTRE).proximal_mm == 1800


def test_moving_one_landmark_leaves_the_others(frontal):
    view = frontal()
    moved = view.moved(Landmark.ANKLE_CENTRE, across_mm=3.0, proximal_mm=-1.0)
    assert moved.spots[Landmark.ANKLE_CENTRE].across_mm == view.spots[Landmark.ANKLE_CENTRE].across_mm + 3
    assert {k for k in view.spots if view.spots[k] != moved.spots[k]} == {Landmark.ANKLE_CENTRE}


def test_sides_bones_and_projections_of_landmarks():
    assert Side.LEFT.other() is Side.RIGHT
    assert Side.RIGHT.other() is Side.LEFT
    assert bone_of(Landmark.MEDIAL_FEMORAL_CONDYLE) is Bone.FEMUR
    assert bone_of(Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR) is Bone.FEMUR
    assert bone_of(Landmark.MEDIAL_PLATEAU) is Bone.TIBIA
    assert bone_of(Landmark.FIBULAR_HEAD_TIP) is Bone.FIBULA
    assert shown_in(Landmark.MEDIAL_PLATEAU, Projection.FRONTAL)
    assert not shown_in(Landmark.MEDIAL_PLATEAU, Projection.SAGITTAL)
    assert plain_words(Landmark.ANKLE_CENTRE) == "ankle centre"
