from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Missing, Refused
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.plan.leg import bone_axis, leg_model
from limbwright.plan.motion import motion_about, turn

BOTH = (Projection.FRONTAL, Projection.SAGITTAL)


def model(leg, **kwargs):  # type: ignore[no-untyped-def]
    return leg_model(*(leg.view(p, **kwargs) for p in BOTH))


def test_projecting_back_gives_the_views_it_was_made_of(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-10, procurvatum=12)
    for projection in BOTH:
        given = leg.view(projection)
        shown = model(leg).view(projection)
        centre = given.spot(Landmark.TIBIA_KNEE_CENTRE)
        for landmark, spot in given.spots.items():
            assert shown.spots[landmark].across_mm == pytest.approx(spot.across_mm - centre.across_mm)
            assert shown.spots[landmark].proximal_mm == pytest.approx(spot.proximal_mm - centre.proximal_mm)
        before = {r.measure: r.value for r in readings(given, age_years=30).values}
        after = {r.measure: r.value for r in readings(shown, age_years=30).values}
        assert before.keys() == after.keys()
        for measure, value in before.items():
            assert after[measure].value == pytest.approx(value.value, abs=1e-9)
            assert after[measure].sd == pytest.approx(value.sd, rel=1e-3)
        assert len(shown.walls) == len(given.walls)


def test_left_and_right_are_the_same(make_leg) -> None:
    right, left = model(make_leg()), model(make_leg(), side=Side.LEFT)
    assert replace(left, side=Side.RIGHT) == right


def test_frontal_points_get_their_depth_from_the_sagittal_axis(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, procurvatum=20)
    made = model(leg)
    # A joint centre is taken from the other film itself, a shaft point from the axis at its level.
    for landmark in (Landmark.ANKLE_CENTRE, Landmark.TIBIA_DISTAL_SHAFT_LOWER):
        assert made.place_mm(landmark) == pytest.approx(leg.points[landmark], abs=0.05)
    assert made.place_mm(Landmark.MEDIAL_PLAFOND)[0] == pytest.approx(
        leg.points[Landmark.ANKLE_CENTRE][0], abs=0.5
    )


def test_without_a_sagittal_film_sagittal_questions_are_refused_by_name(make_leg) -> None:
    alone = leg_model(make_leg().view(Projection.FRONTAL), None)
    assert not alone.has_sagittal
    assert all(p.anterior_mm == 0 for p in alone.frontal.values())
    assert alone.views()[1] is None
    with pytest.raises(Missing, match="no sagittal film, needed for a sagittal view"):
        alone.view(Projection.SAGITTAL)


def test_moving_moves_points_and_walls_alike(make_leg) -> None:
    made = model(make_leg())
    motion = motion_about(turn(varus_deg=5, procurvatum_deg=7, external_deg=9), [0.0, 20, 30])
    moved = made.moved(motion)
    for projection in BOTH:
        for landmark, p in made.points(projection).items():
            assert moved.points(projection)[landmark].array() == pytest.approx(motion.moved(p.array()))
    assert moved.walls[3].array() == pytest.approx(motion.moved(made.walls[3].array()))


def test_bone_axis_uses_the_head_only_without_shaft_points(make_leg) -> None:
    view = make_leg().view(Projection.FRONTAL)
    levels, across = bone_axis(view, Bone.FEMUR)
    assert len(levels) == 7
    assert np.all(np.diff(levels) > 0)
    assert across[0] == pytest.approx(70.0)
    few = replace(
        view,
        spots={
            k: v
            for k, v in view.spots.items()
            if k in (Landmark.FEMORAL_HEAD_CENTRE, Landmark.FEMUR_KNEE_CENTRE)
        },
    )
    assert len(bone_axis(few, Bone.FEMUR)[0]) == 2
    assert bone_axis(few, Bone.TIBIA)[1] == pytest.approx([0.0])


@pytest.mark.parametrize(
    ("change", "error", "match"),
    [
        (lambda f, s: (s, f), Refused, "sagittal view was given as the frontal one"),
        (lambda f, s: (replace(f, scaled=False), s), Refused, "has no scale"),
        (lambda f, s: (f, replace(s, side=Side.LEFT)), Refused, "right leg, the sagittal one the left leg"),
        (
            lambda f, s: (
                replace(f, spots={k: v for k, v in f.spots.items() if "knee_centre" not in k}, walls=()), s,
            ),
            Missing,
            "no knee centre is marked",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_laid_together_is_refused(make_leg, change, error, match) -> None:
    views = (make_leg().view(p) for p in BOTH)
    with pytest.raises(error, match=match):
        leg_model(*change(*views))


def test_two_films_of_one_leg_meet_at_their_own_knee_centres(make_leg) -> None:
    view = make_leg().view(Projection.FRONTAL, walls=False)
    femur = Landmark.FEMUR_KNEE_CENTRE

    def apart(landmark, spot):  # type: ignore[no-untyped-def]
        return (
            replace(spot, across_mm=spot.across_mm + 500, patch="femur film")
            if landmark in above
            else replace(spot, patch="tibia film")
        )

    above = {k for k in view.spots if k.startswith(("fem", "great", "medial_fem", "lateral_fem"))}
    made = leg_model(replace(view, spots={k: apart(k, s) for k, s in view.spots.items()}), None)
    assert made.place_mm(femur) == pytest.approx([0, 0, 0])
    assert made.place_mm(Landmark.FEMORAL_HEAD_CENTRE) == pytest.approx([0, 430, 0])
    assert not made.view(Projection.FRONTAL).in_one_frame(femur, Landmark.TIBIA_KNEE_CENTRE)


def test_a_landmark_that_is_marked_nowhere_is_named(make_leg) -> None:
    view = make_leg().view(Projection.FRONTAL)
    spots = {k: v for k, v in view.spots.items() if k is not Landmark.ANKLE_CENTRE}
    with pytest.raises(Missing, match="'ankle centre' is marked on no film"):
        leg_model(replace(view, spots=spots), None).place_mm(Landmark.ANKLE_CENTRE)
