from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Fragment, Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.cut import Cut
from limbwright.plan.decision import FragmentPath, NailPath
from limbwright.plan.end_alignment import (
    Aim,
    LevelAim,
    LinePair,
    Progress,
    femoral_axis_shift,
    knee_shift_mm,
    measure_value,
    moved_leg,
    solved_ends,
    standing,
)
from limbwright.plan.leg import leg_model
from limbwright.plan.motion import STAY, motion_about, triple, turn, unit
from limbwright.plan.path import path_from_end, place_of
from limbwright.plan.reduction import Reduction, reduction

DOWN = np.array([0.0, -1.0, 0.0])


def model(leg):  # type: ignore[no-untyped-def]
    return leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL))


def tibial_pair(leg, level: float) -> LinePair:  # type: ignore[no-untyped-def]
    return LinePair(
        cut=Cut(bone=Bone.TIBIA, point_mm=(0.0, level, 0.0), normal=(0.0, 1.0, 0.0)),
        direction=triple(unit([0.02, -1.0, 0.01])),
        proximal_mm=(0.0, -60.0, 0.0),
        distal_mm=triple(leg.points[Landmark.TIBIA_DISTAL_SHAFT_UPPER]),
    )


def end_leg(leg, pair, end, gained):  # type: ignore[no-untyped-def]
    """The leg at full length, through the written path and its reduction (not through the solver)."""
    cut = Cut(
        bone=pair.cut.bone,
        point_mm=pair.cut.point_mm,
        normal=pair.cut.normal,
    )
    back = path_from_end(proximal=end.proximal, cut=cut, end=end.motion, lengthening_mm=gained)
    path = NailPath(entry=end.proximal.upper, proximal=end.proximal, distal=back.path)
    reduced = reduction(path=path, cut=cut, rotation_correction_deg=back.rotation_correction_deg)
    return moved_leg(leg, [Progress(reduction=reduced, gained_mm=gained)]), moved_leg(
        leg, [Progress(reduction=reduced, gained_mm=0.0)]
    )


@settings(max_examples=15, deadline=None)
@given(
    varus=st.floats(-15, 15),
    procurvatum=st.floats(-12, 12),
    target=st.floats(84, 91),
    rotation=st.floats(-15, 15),
    gained=st.floats(0, 60),
)
def test_the_end_shows_the_wanted_angle_and_the_path_leads_there(  # noqa: PLR0917
    make_leg, varus, procurvatum, target, rotation, gained
) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=varus, procurvatum=procurvatum)
    made, pair = model(leg), tibial_pair(leg, -120)
    end = solved_ends(
        made,
        [
            LevelAim(
                pair=pair,
                frontal=Aim(measure=Measure.MPTA, value=target, turn_deg=-varus),
                sagittal=Aim(turn_deg=-procurvatum),
                external_deg=rotation,
                lengthening_mm=gained,
            )
        ],
    )[0]
    full, corrected = end_leg(made, pair, end, gained)
    assert measure_value(full.view(Projection.FRONTAL), Measure.MPTA) == pytest.approx(target, abs=1e-5)
    # What the solver moved and what the written path moves are one and the same, to well below 0.01 mm.
    assert full.place_mm(Landmark.ANKLE_CENTRE) == pytest.approx(
        end.motion.moved(made.place_mm(Landmark.ANKLE_CENTRE)), abs=1e-6
    )
    # Lengthening is a slide along the nail.
    slide = full.place_mm(Landmark.ANKLE_CENTRE) - corrected.place_mm(Landmark.ANKLE_CENTRE)
    assert np.linalg.norm(slide) == pytest.approx(gained, abs=1e-6)


def test_a_measure_can_be_aimed_at_in_each_plane(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -80, varus=8, procurvatum=6)
    made, pair = model(leg), tibial_pair(leg, -80)
    end = solved_ends(
        made,
        [
            LevelAim(
                pair=pair,
                frontal=Aim(measure=Measure.HKA, value=1.0, turn_deg=-8),
                sagittal=Aim(measure=Measure.PPTA, value=80.0, turn_deg=-6),
                external_deg=0.0,
                lengthening_mm=30.0,
            )
        ],
    )[0]
    full, _corrected = end_leg(made, pair, end, 30.0)
    assert measure_value(full.view(Projection.FRONTAL), Measure.HKA) == pytest.approx(1.0, abs=1e-5)
    assert measure_value(full.view(Projection.SAGITTAL), Measure.PPTA) == pytest.approx(80.0, abs=1e-5)


def test_a_measure_that_the_cut_does_not_change_falls_back_to_the_turn(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -150, procurvatum=9)
    end = solved_ends(
        model(leg),
        [
            LevelAim(
                pair=tibial_pair(leg, -150),
                frontal=Aim(),
                sagittal=Aim(
                    measure=Measure.PPTA, value=70.0, turn_deg=-9
                ),  # both its lines are proximal of the cut
                external_deg=0.0,
                lengthening_mm=0.0,
            )
        ],
    )[0]
    assert end.procurvatum_deg == pytest.approx(-9)


def test_an_end_out_of_reach_is_refused(make_leg) -> None:
    leg = make_leg()
    with pytest.raises(Refused, match=r"no turn of the distal fragment reaches MPTA 190\.0"):
        solved_ends(
            model(leg),
            [
                LevelAim(
                    pair=tibial_pair(leg, -120),
                    frontal=Aim(measure=Measure.MPTA, value=190.0),
                    sagittal=Aim(),
                    external_deg=0.0,
                    lengthening_mm=0.0,
                )
            ],
        )[0]


def slide(bone: Bone, level: float) -> Reduction:
    line = [[0.0, level, 0.0], [0.0, level - 50, 0.0]]
    paths = {
        f: FragmentPath(fragment=f, upper=place_of(line[0]), lower=place_of(line[1])) for f in SIDES_OF_A_CUT
    }
    path = NailPath(entry=place_of(line[0]), proximal=paths[Fragment.PROXIMAL], distal=paths[Fragment.DISTAL])
    cut = Cut(bone=bone, point_mm=(0.0, level, 0.0), normal=(0.0, 1.0, 0.0))
    return reduction(path=path, cut=cut)


def test_femur_and_tibia_compose_in_any_order_they_are_given(make_leg) -> None:
    made = model(make_leg())
    femur_turn = motion_about(turn(varus_deg=10, procurvatum_deg=0, external_deg=0), [0.0, 180, 0])
    courses = [
        Progress(reduction=slide(Bone.TIBIA, -140), gained_mm=30),
        Progress(reduction=slide(Bone.FEMUR, 180), gained_mm=20, drift=femur_turn),
    ]
    one, other = moved_leg(made, courses), moved_leg(made, courses[::-1])
    assert one == other
    before = np.array([0.0, -360 - 30 - 20, 0])  # foot first, then the femur carries it all
    assert one.place_mm(Landmark.ANKLE_CENTRE) == pytest.approx(femur_turn.moved(before))


@pytest.mark.parametrize("levels", [(-120, -120), (-120, -160, -200)])
def test_cuts_that_no_nail_is_planned_over_are_refused(make_leg, levels) -> None:
    cuts = [Progress(reduction=slide(Bone.TIBIA, y), gained_mm=10) for y in levels]
    with pytest.raises(Refused, match="two osteotomies at one level, or more than two"):
        moved_leg(model(make_leg()), cuts)


def test_lengthening_along_the_anatomical_axis_moves_the_knee_medially() -> None:
    assert knee_shift_mm([0.0, 6.0], 50.0) == pytest.approx([0, 5.226], abs=1e-3)
    none = femoral_axis_shift(ama_deg=6, femur_mm=450, tibia_mm=370, lengthening_mm=0)
    assert (none.knee_medial_mm, none.mad_lateral_mm, none.mldfa_fall_deg) == (0, 0, 0)
    with pytest.raises(OutOfRange, match="femur length is 5 mm"):
        femoral_axis_shift(ama_deg=6, femur_mm=5, tibia_mm=370, lengthening_mm=50)


def test_a_measure_that_cannot_be_made_is_none(make_leg) -> None:
    assert measure_value(make_leg().view(Projection.SAGITTAL), Measure.MAD) is None


def test_a_moved_leg_is_stood_up_again(make_leg) -> None:
    made = model(make_leg())
    turned = motion_about(turn(varus_deg=-9, procurvatum_deg=0, external_deg=0), [0.0, 180, 20])
    leaning = moved_leg(made, [Progress(reduction=slide(Bone.FEMUR, 180), gained_mm=30, drift=turned)])
    up = standing(made, leaning)
    stood = leaning.moved(up)
    assert stood.place_mm(Landmark.ANKLE_CENTRE)[2] == pytest.approx(0, abs=1e-9)  # under the hip again
    assert stood.place_mm(Landmark.FEMORAL_HEAD_CENTRE) == pytest.approx([0, 430, 0])
    for measure in (Measure.MLDFA, Measure.MPTA, Measure.MAD, Measure.LEG_LENGTH):
        before, after = (measure_value(leg.view(Projection.FRONTAL), measure) for leg in (leaning, stood))
        assert after == pytest.approx(before, abs=1e-9)
    heights = [measure_value(leg.view(Projection.FRONTAL), Measure.KNEE_HEIGHT) for leg in (leaning, stood)]
    assert heights[1] > heights[0] + 3


def test_a_leg_without_a_hip_stays_as_it_is(make_leg) -> None:
    made = model(make_leg())
    tibia = {k: v for k, v in made.frontal.items() if k is not Landmark.FEMORAL_HEAD_CENTRE}
    alone = replace(made, frontal=tibia, sagittal={})
    assert standing(alone, alone) == STAY
