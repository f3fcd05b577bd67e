from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border
from limbwright.plan.decision import Plan, ScrewDirection
from limbwright.plan.drawing import drawing, film_to_stage, fragment_depth_mm, poses
from limbwright.plan.drawn_nail import blocking_point_mm, nail_point_mm
from limbwright.plan.drift import Drift
from limbwright.plan.leg import leg_model
from limbwright.plan.outlook import outlook
from limbwright.plan.shape import ShapeKind, band
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile


def model(leg, *, sagittal=True):  # type: ignore[no-untyped-def]
    return leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL) if sagittal else None)


def of(*bones):  # type: ignore[no-untyped-def]
    return Plan(side=Side.RIGHT, bones=bones, staging=None, steps=(), findings=())


@pytest.fixture
def bent(make_leg, bone_plan):  # type: ignore[no-untyped-def]
    made = model(make_leg().deformed(Bone.TIBIA, -120, varus=-12, procurvatum=8))
    return made, bone_plan(made, Bone.TIBIA, 120, 35, frontal=12.0, sagittal=-8.0)


@pytest.mark.parametrize("projection", Projection)
def test_landmarks_are_drawn_where_the_outlook_measures_them(bent, projection) -> None:
    made, plan = bent
    found = outlook(made, None, of(plan), Profile(), age_years=30)
    for stage in found.stages:
        view = stage.frontal if projection is Projection.FRONTAL else stage.sagittal
        drawn = drawing(made, of(plan), projection, stage.name)
        marks = {s.label: s.points_mm[0] for s in drawn.of_kind(ShapeKind.LANDMARK)}
        for landmark, spot in view.spots.items():
            assert marks[landmark.value] == pytest.approx((spot.across_mm, spot.proximal_mm), abs=1e-9)


def test_the_nail_lies_on_both_lines_once_corrected_and_grows_with_the_leg(bent) -> None:
    made, plan = bent
    for stage, gained in ((StageName.CORRECTED, 0.0), (StageName.FULL_LENGTH, 35.0)):
        pose = poses(made, of(plan), stage)[Bone.TIBIA]
        assert pose.gained_mm == gained
        tip = nail_point_mm(plan, pose, plan.nail.length_mm + gained)
        lower = pose.distal.moved(
            [getattr(plan.path.distal.lower, f"{a}_mm") for a in ("anterior", "proximal", "lateral")]
        )
        assert tip == pytest.approx(lower, abs=1e-6)  # the path's lower end is the tip of the closed nail
        thick, thin = (
            drawing(made, of(plan), Projection.FRONTAL, stage).of_kind(kind)[0]
            for kind in (ShapeKind.NAIL_THICK, ShapeKind.NAIL_THIN)
        )
        heights = [p[1] for p in thin.points_mm]
        assert max(heights) - min(heights) == pytest.approx(30 + gained, abs=1.0)
        assert len(thick.points_mm) == 6  # entry, bend, end of the thick part, on both sides
        assert thick.closed


def test_a_bend_shows_in_its_own_plane_only(bent) -> None:
    made, plan = bent
    pose = poses(made, of(plan), StageName.CORRECTED)[Bone.TIBIA]
    top, bend = (pose.proximal.inverse().moved(nail_point_mm(plan, pose, d)) for d in (0.0, 50.0))
    assert top[0] - bend[0] == pytest.approx(50 * np.sin(np.radians(10)), abs=0.2)
    assert abs(top[2] - bend[2]) < 0.2


def test_screws_are_circles_end_on_and_outlines_from_the_side(bent) -> None:
    made, plan = bent
    frontal = drawing(made, of(plan), Projection.FRONTAL, StageName.CORRECTED)
    sagittal = drawing(made, of(plan), Projection.SAGITTAL, StageName.CORRECTED)
    for kind in (ShapeKind.LOCKING_SCREW, ShapeKind.BLOCKING_SCREW):
        for one, other in zip(frontal.of_kind(kind), sagittal.of_kind(kind), strict=True):
            if "oblique" in one.label:
                assert one.radius_mm is None and other.radius_mm is None  # noqa: PT018
            else:
                assert (one.radius_mm is None) is not (other.radius_mm is None)
    lateral = frontal.of_kind(ShapeKind.BLOCKING_SCREW)[0]
    assert lateral.radius_mm == 2.5
    assert lateral.fragment is Fragment.PROXIMAL


def test_blocking_screws_stay_beside_the_nail_and_move_with_their_fragment(bent) -> None:
    made, plan = bent
    for stage, gained in ((StageName.CORRECTED, 0.0), (StageName.FULL_LENGTH, 35.0)):
        pose = poses(made, of(plan), stage)[Bone.TIBIA]
        depth = plan.osteotomy.depth_mm
        for screw, at in zip(plan.blocking_screws, (depth - 10, depth + 10 + gained), strict=True):
            away = blocking_point_mm(plan, pose, screw) - nail_point_mm(plan, pose, at)
            assert np.linalg.norm(away) == pytest.approx(8.35, abs=1e-6)
            assert away[2] > 8  # lateral
    posterior = replace(plan.blocking_screws[0], side=Border.POSTERIOR, direction=ScrewDirection.MEDIOLATERAL)
    pose = poses(made, of(plan), StageName.CORRECTED)[Bone.TIBIA]
    beside = replace(plan, blocking_screws=(posterior,))
    at_nail = nail_point_mm(plan, pose, plan.osteotomy.depth_mm - 10)
    assert (blocking_point_mm(beside, pose, posterior) - at_nail)[0] < -8


def test_the_cut_opens_by_what_is_gained(bent) -> None:
    made, plan = bent

    def gap(**kwargs) -> float:  # type: ignore[no-untyped-def]
        drawn = drawing(made, of(plan), Projection.FRONTAL, StageName.FULL_LENGTH, **kwargs)
        faces = [np.mean(s.points_mm, axis=0) for s in drawn.of_kind(ShapeKind.OSTEOTOMY)]
        return float(np.linalg.norm(faces[0] - faces[1]))

    closed = gap(gained_mm={Bone.TIBIA: 0.0})
    assert gap(gained_mm={Bone.TIBIA: 12.0}) - closed == pytest.approx(12, abs=0.4)
    assert gap() - closed == pytest.approx(35, abs=0.4)


def test_as_it_stands_the_lines_and_the_apex_are_drawn_without_a_nail(bent) -> None:
    made, plan = bent
    with_apex = replace(plan, osteotomy=replace(plan.osteotomy, below_joint_mm=110.0, off_apex_mm=-10.0))
    drawn = drawing(made, of(with_apex), Projection.FRONTAL, StageName.AS_IT_STANDS)
    assert len(drawn.of_kind(ShapeKind.NAIL_LINE)) == 2
    assert drawn.of_kind(ShapeKind.NAIL_THICK) == ()
    assert drawn.of_kind(ShapeKind.APEX)[0].points_mm[0][1] == pytest.approx(-119, abs=2)
    assert drawing(made, of(plan), Projection.FRONTAL, StageName.AS_IT_STANDS).of_kind(ShapeKind.APEX) == ()
    faces = drawn.of_kind(ShapeKind.OSTEOTOMY)
    assert faces[0].points_mm == faces[1].points_mm


def test_a_retrograde_nail_stays_with_the_distal_fragment(make_leg, bone_plan) -> None:
    made = model(make_leg().deformed(Bone.FEMUR, 100, varus=10))
    plan = bone_plan(made, Bone.FEMUR, 335, 40, frontal=-10.0, retrograde=True)
    corrected, full = (
        poses(made, of(plan), stage)[Bone.FEMUR] for stage in (StageName.CORRECTED, StageName.FULL_LENGTH)
    )

    def from_above(pose, depth):  # type: ignore[no-untyped-def]
        return pose.proximal.inverse().moved(nail_point_mm(plan, pose, depth))

    assert np.linalg.norm(from_above(full, 0.0) - from_above(corrected, 0.0)) == pytest.approx(40)
    assert from_above(full, 345.0) == pytest.approx(from_above(corrected, 305.0))


def test_two_bones_and_a_drift_are_drawn_together(make_leg, bone_plan) -> None:
    made = model(make_leg())
    femur, tibia = bone_plan(made, Bone.FEMUR, 100, 40), bone_plan(made, Bone.TIBIA, 100, 30)
    drift = {Bone.TIBIA: Drift(varus_deg=-4)}
    at = poses(made, of(tibia, femur), StageName.FULL_LENGTH, drifts=drift)
    assert at[Bone.TIBIA].proximal == at[Bone.FEMUR].distal
    drawn = drawing(made, of(tibia, femur), Projection.FRONTAL, StageName.FULL_LENGTH, drifts=drift)
    assert drawn.gained_mm == 70
    ankle = next(s for s in drawn.of_kind(ShapeKind.LANDMARK) if s.label == Landmark.ANKLE_CENTRE)
    seen = outlook(made, None, of(tibia, femur), Profile(), age_years=30, drifts=drift).stages[2]
    spot = seen.frontal.spot(Landmark.ANKLE_CENTRE)
    assert ankle.points_mm[0] == pytest.approx((spot.across_mm, spot.proximal_mm))


def test_a_film_is_cut_and_moved_as_its_landmarks_are(bent) -> None:
    made, plan = bent
    pose = poses(made, of(plan), StageName.FULL_LENGTH)[Bone.TIBIA]
    mm_per_px, knee = 0.2, (70.0, -300.0)
    limb_from_film = np.array([[mm_per_px, 0, -40.0], [0, -mm_per_px, 20.0]])
    depth = fragment_depth_mm(pose.reduction, Projection.FRONTAL)
    affine = film_to_stage(limb_from_film, knee, pose.distal, Projection.FRONTAL, depth)
    at_depth = np.array([depth, -250.0, 18.0])
    view = np.array([at_depth[2] + knee[0], at_depth[1] + knee[1]])
    pixel = np.array([(view[0] + 40.0) / mm_per_px, (20.0 - view[1]) / mm_per_px, 1.0])
    moved = pose.distal.moved(at_depth)
    assert affine @ pixel == pytest.approx([moved[2], moved[1]])
    still = film_to_stage(limb_from_film, knee, pose.proximal, Projection.FRONTAL, depth)
    stood = pose.proximal.moved(at_depth)
    assert still @ pixel == pytest.approx([stood[2], stood[1]])


def test_without_a_sagittal_film_no_sagittal_drawing(make_leg, bone_plan) -> None:
    made = model(make_leg(), sagittal=False)
    plan = bone_plan(made, Bone.TIBIA, 120, 35)
    assert drawing(made, of(plan), Projection.FRONTAL, StageName.CORRECTED).shapes
    with pytest.raises(Missing, match="no sagittal film, needed for a sagittal drawing"):
        drawing(made, of(plan), Projection.SAGITTAL, StageName.CORRECTED)


def test_cut_faces_have_a_default_width_where_nothing_is_traced(make_leg, bone_plan) -> None:
    made = replace(model(make_leg()), walls=())
    drawn = drawing(made, of(bone_plan(made, Bone.TIBIA, 120, 35)), Projection.FRONTAL, StageName.CORRECTED)
    (a, b) = drawn.of_kind(ShapeKind.OSTEOTOMY)[0].points_mm
    assert b[0] - a[0] == pytest.approx(50, abs=0.1)


def test_a_band_is_as_wide_as_asked() -> None:
    outline = band(((0.0, 0.0), (0.0, -10.0)), 3.0)
    assert outline == ((3.0, 0.0), (3.0, -10.0), (-3.0, -10.0), (-3.0, 0.0))
