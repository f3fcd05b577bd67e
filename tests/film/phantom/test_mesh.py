import numpy as np
import pytest

from limbwright.film.phantom.bones import Detail, leg_bones, pelvis_bones, sacrum_bones
from limbwright.film.phantom.leg import LegShape
from limbwright.film.phantom.mesh import ball, from_field, rod, swept


def closed(mesh):
    """Every edge is walked as often one way as the other: the surface has no rim."""
    edges = np.concatenate([mesh.triangles[:, pair] for pair in ([0, 1], [1, 2], [2, 0])])
    keys = np.sort(edges, axis=1)
    _, number = np.unique(keys, axis=0, return_inverse=True)
    return not np.bincount(number, weights=np.where(edges[:, 0] < edges[:, 1], 1.0, -1.0)).any()


def test_a_ball_and_a_rod_have_the_volumes_of_the_textbook():
    assert ball("ball", np.ones(3), 10.0, attenuation_per_mm=1.0, rings=200).volume_mm3() == pytest.approx(
        np.pi * 10.0**3 / 6.0, rel=1e-3
    )
    tube = rod(
        "rod", np.array([0.0, 0, 0]), np.array([30.0, 40.0, 0.0]), 6.0, attenuation_per_mm=1.0, around=400
    )
    assert tube.volume_mm3() == pytest.approx(np.pi * 9.0 * 50.0, rel=1e-3)


@pytest.mark.parametrize(
    "end", [(10.0, 0, 0), (-10.0, 1.0, 0), (0, 10.0, 0), (0, -10.0, 0), (0, 0, 10.0), (1, 2, -9)]
)
def test_a_swept_tube_faces_outward_whichever_way_it_runs(end):
    line = np.array([[0.0, 0, 0], end])
    tube = swept("tube", line, np.full(2, 2.0), np.full(2, 1.0), attenuation_per_mm=1.0)
    assert tube.volume_mm3() > 0
    assert closed(tube)


def test_a_mirrored_mesh_still_faces_outward():
    sphere = ball("ball", np.array([1.0, 2.0, 3.0]), 10.0, attenuation_per_mm=1.0)
    twin = sphere.mirrored()
    assert twin.volume_mm3() == pytest.approx(sphere.volume_mm3())
    assert twin.points[:, 2].mean() == pytest.approx(-3.0)


def test_a_solid_that_leaves_the_grid_is_closed_at_the_rim():
    solid = np.full((6, 6, 6), -1.0, dtype=np.float32)
    box = from_field("box", solid, origin_mm=(0, 0, 0), step_mm=1.0, attenuation_per_mm=1.0)
    assert closed(box)
    assert box.volume_mm3() > 0


def test_every_bone_is_closed_and_faces_outward():
    bones = leg_bones(LegShape(), Detail.COARSE)
    meshes = [
        mesh for part in ("femur", "patella", "tibia", "talus", "foot") for mesh in getattr(bones, part)
    ]
    meshes += [*pelvis_bones(24.0, 176.0, Detail.COARSE), *sacrum_bones(176.0, Detail.COARSE)]
    for mesh in meshes:
        assert closed(mesh), mesh.name
        assert mesh.volume_mm3() > 0, mesh.name


def test_bones_are_built_once_per_shape_and_shared_by_deformities():
    from limbwright.film.phantom import Angulation
    from limbwright.limb.anatomy import Bone

    bent = LegShape(deformities=(Angulation(bone=Bone.TIBIA, level=0.4, varus_deg=9.0),))
    assert leg_bones(bent, Detail.COARSE) is leg_bones(LegShape(), Detail.COARSE)


def test_vertices_cannot_be_written():
    with pytest.raises(ValueError, match="read-only"):
        ball("ball", np.zeros(3), 10.0, attenuation_per_mm=1.0).points[0] = 1.0


@pytest.mark.parametrize(("detail", "tolerance"), [(Detail.COARSE, 0.5), (Detail.FINE, 0.12)])
def test_the_condyles_touch_the_joint_line_and_the_head_is_a_sphere(detail, tolerance):
    shape = LegShape(mldfa_deg=84.0)
    outer = leg_bones(shape, detail).femur[0]
    rise = np.tan(np.radians(90.0 - shape.mldfa_deg))
    below = outer.points[:, 1] - rise * outer.points[:, 2]
    for side in (-1.0, 1.0):
        own = np.abs(outer.points[:, 2] - 23.0 * side) < 10.0
        assert below[own].min() == pytest.approx(0.0, abs=tolerance)
    head = outer.points - np.array([0.0, shape.femur_length_mm, 0.0])
    cap = head[(head[:, 2] < -8.0) & (head[:, 1] > 0.0)]
    assert np.linalg.norm(cap, axis=1) == pytest.approx(shape.head_radius_mm, abs=tolerance)


def test_plateau_plafond_and_tuberosity_lie_on_the_bone():
    from limbwright.film.phantom.tibia import TibiaAxis, landmarks

    shape = LegShape()
    tibia = next(mesh for mesh in leg_bones(shape, Detail.FINE).tibia if mesh.name == "tibia")
    for name in (
        "medial_plateau",
        "lateral_plateau",
        "medial_plafond",
        "lateral_plafond",
        "tibial_tuberosity",
    ):
        place = landmarks(TibiaAxis(shape))[name]
        assert np.linalg.norm(tibia.points - place, axis=1).min() < 1.0, name
