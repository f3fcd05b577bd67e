from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Missing
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.entry import bone_ends, entry_finding, femur_top, plateau
from limbwright.plan.leg import leg_model

DOWN = np.array([0.0, -1.0, 0.0])


def model(leg, sagittal=True):  # type: ignore[no-untyped-def]
    return leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL) if sagittal else None)


def test_the_plateau_slopes_as_its_lines_do(make_leg) -> None:
    centre, normal = plateau(model(make_leg()))
    assert centre == pytest.approx([0, 0, 0])
    assert -normal[2] / normal[1] == pytest.approx(np.tan(np.radians(3)))
    assert -normal[0] / normal[1] == pytest.approx(np.tan(np.radians(9)))
    near, far = bone_ends(model(make_leg()), Bone.TIBIA, Direction.ANTEGRADE)
    # Ten millimetres in front of the centre the surface stands higher.
    assert near.met_by([10.0, -50, 0], -DOWN)[1] == pytest.approx(10 * np.tan(np.radians(9)))
    assert far.met_by([0.0, -50, 0], DOWN)[1] == pytest.approx(-360)


def test_a_femur_is_entered_at_either_end(make_leg) -> None:
    made = model(make_leg())
    top, bottom = bone_ends(made, Bone.FEMUR, Direction.ANTEGRADE)
    assert top.what == "tip of the greater trochanter"
    assert bone_ends(made, Bone.FEMUR, Direction.RETROGRADE) == (bottom, top)
    assert bottom.met_by([0.0, 100, 0], DOWN)[1] == pytest.approx(0)


def test_without_the_trochanter_the_head_gives_the_level(make_leg) -> None:
    made = model(make_leg(femur_mm=440))
    without = replace(
        made, frontal={k: v for k, v in made.frontal.items() if k is not Landmark.GREATER_TROCHANTER_TIP}
    )
    assert femur_top(without)[0][1] == pytest.approx(440)
    nothing = replace(
        without,
        frontal={k: v for k, v in without.frontal.items() if k is not Landmark.FEMORAL_HEAD_CENTRE},
        sagittal={},
    )
    with pytest.raises(Missing, match="neither the tip of the greater trochanter nor"):
        femur_top(nothing)


@pytest.mark.parametrize(
    ("bone", "direction", "entry", "words"),
    [
        (Bone.TIBIA, Direction.ANTEGRADE, [8, -3, 2.4], "2.4 mm lateral of the knee centre and 12.0 mm"),
        (Bone.TIBIA, Direction.ANTEGRADE, [8, -3, 0], "in line with the knee centre"),
        (Bone.FEMUR, Direction.RETROGRADE, [0, 3, -9], "9.0 mm medial of the knee centre"),
        (Bone.FEMUR, Direction.ANTEGRADE, [0, 430, 35], "25.0 mm medial of the tip of the greater"),
    ],
)  # fmt: skip
def test_the_entry_is_told_in_distances_found_in_theatre(make_leg, bone, direction, entry, words) -> None:
    found = entry_finding(model(make_leg()), bone, direction, np.array(entry, dtype=float))
    assert found.id == "nail-entry"
    assert words in found.words


def test_without_a_sagittal_film_only_the_frontal_distance_is_told(make_leg) -> None:
    found = entry_finding(
        model(make_leg(), sagittal=False), Bone.TIBIA, Direction.ANTEGRADE, np.array([0.0, 0, 3])
    )
    assert len(found.numbers) == 1
    assert "posterior" not in found.words
