"""Wall truth and filmed shadow must meet at the edges, from under the tuberosity to above the ankle."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.film.phantom import Detail, LegShape, PatientShape, Stance, WallKind, take_film
from limbwright.film.phantom.bones import leg_bones
from limbwright.film.phantom.hardware import NO_HARDWARE
from limbwright.film.phantom.placement import placed_leg
from limbwright.film.phantom.ray import beam_for, paths
from limbwright.film.phantom.setting import Detector, XraySetup
from limbwright.film.phantom.walls import walls
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark


@pytest.mark.parametrize("projection", list(Projection))
@pytest.mark.parametrize("rotation", [0.0, 14.0])
@pytest.mark.parametrize(
    ("bone", "shape"),
    [
        (Bone.FEMUR, LegShape()),
        (Bone.TIBIA, LegShape()),
        # Short and wide: the ridge of the tuberosity reaches far down the traced shaft.
        (Bone.TIBIA, LegShape(tibia_length_mm=300.0, bone_width=1.1)),
    ],
    ids=["femur", "tibia", "short tibia"],
)
def test_both_edges_of_cortex_and_canal_are_where_the_mesh_ends(projection, rotation, bone, shape):
    leg = placed_leg(
        shape, NO_HARDWARE, Stance(rotation_deg=rotation), side=Side.RIGHT, hip_distance_mm=176.0
    )
    pixel = 0.25
    setup = XraySetup(projection=projection, detector=Detector(pixel_mm=pixel))
    beam = beam_for(setup, Side.RIGHT, 176.0)
    bones = leg_bones(shape, Detail.FINE)
    name = str(bone)
    now = leg.femur_now if bone is Bone.FEMUR else leg.tibia_now
    shown = {mesh.name: mesh for mesh in (bones.femur if bone is Bone.FEMUR else bones.tibia)}
    for wall in walls(leg, NO_HARDWARE, beam):
        if wall.bone is not bone:
            continue
        mesh = shown[name if wall.kind is WallKind.OUTER else f"spongy bone of the {name}"]
        shadow = paths([replace(mesh.moved(now), attenuation_per_mm=1.0)], beam, (setup.rows, setup.columns))
        for number in range(2, len(wall.axis_px) - 5, 17):
            row = round(float(wall.low_px[number, 1]))
            inside = np.flatnonzero(shadow[row] > 1e-3)
            # The edges are asked for at whole rows: take them from the polylines there.
            low = np.interp(row, wall.low_px[:, 1], wall.low_px[:, 0])
            high = np.interp(row, wall.high_px[:, 1], wall.high_px[:, 0])
            assert (inside[0] - low) * pixel == pytest.approx(0.0, abs=0.35)
            assert (inside[-1] - high) * pixel == pytest.approx(0.0, abs=0.35)


def test_widths_are_the_given_ones_times_the_scale():
    shape = LegShape()
    patient = PatientShape(right=shape)
    film = take_film(
        patient,
        seed=1,
        setup=XraySetup(width_mm=430, height_mm=60, detector=Detector(pixel_mm=2.0)),
        detail=Detail.COARSE,
    )
    leg = film.truth.leg(Side.RIGHT)
    for wall in leg.walls:
        if wall.bone is not Bone.TIBIA:
            continue
        share = (0.60 - wall.level[0]) / (wall.level[1] - wall.level[0])
        number = round(share * (len(wall.axis_px) - 1))
        down = wall.axis_px[-1] - wall.axis_px[0]
        across = np.array([down[1], -down[0]]) / np.linalg.norm(down)
        width = (
            abs((wall.high_px[number] - wall.low_px[number]) @ across)
            / leg.px_per_mm[Landmark.TIBIA_DISTAL_SHAFT_UPPER]
        )
        section = next(part for part in shape.tibia_shaft if part.level == 0.60)
        given = (
            section.outer_mediolateral_mm if wall.kind is WallKind.OUTER else section.canal_mediolateral_mm
        )
        assert width == pytest.approx(given, rel=0.005)
