"""Joint-orientation angles of a follow-up film drawn by trigonometry."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.course.film_angles import joint_angles
from limbwright.course.film_marks import FollowUpMarks
from limbwright.course.film_reading import read_film
from limbwright.course.film_scale import NailScale
from limbwright.course.joint_angle import JointAngle
from limbwright.error import Contradiction, OutOfRange
from limbwright.film.film import Mark, ViewerSide
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure

SCALE = NailScale(
    across_mm=0.2,
    across_relative_sd=0.01,
    along_mm=0.2,
    along_relative_sd=0.01,
    tilt_deg=None,
    tilt_sd_deg=None,
)


def at(across, down, *, right):
    return Mark(x_px=1500 + (1 if right else -1) * 5 * across, y_px=5 * down)


def line(across, down, half, tilt_deg, *, right, swapped=False):
    """A line whose outer end (lateral, anterior) lies lower by a tilt."""
    dx, dy = half * math.cos(math.radians(tilt_deg)), half * math.sin(math.radians(tilt_deg))
    ends = (at(across + dx, down + dy, right=right), at(across - dx, down - dy, right=right))
    return ends[::-1] if swapped else ends


def marks(bone=Bone.TIBIA, projection=Projection.FRONTAL, right=True, **more):
    across_to = ViewerSide.VIEWER_RIGHT if right else ViewerSide.VIEWER_LEFT
    edge = (at(-5, 100, right=right), at(5, 100, right=right))
    base = FollowUpMarks(film="x", bone=bone, projection=projection, across_to=across_to, nail_edges=(edge,))
    return replace(base, **more)


def found(made, profile):
    return {a.measure: a.deg for a in joint_angles(made, SCALE, profile)}


@given(st.floats(-12, 12), st.floats(-12, 12), st.booleans(), st.booleans())
def test_a_tibia_by_its_own_tilts(profile, knee_deg, ankle_deg, right, swapped):
    frontal = marks(
        right=right,
        knee_line=line(0, 20, 35, knee_deg, right=right, swapped=swapped),
        ankle_line=line(0, 380, 15, ankle_deg, right=right),
    )
    # a knee line that falls laterally opens the medial angle; so does a plafond that rises laterally
    assert found(frontal, profile) == {
        Measure.MPTA: pytest.approx(90 + knee_deg, abs=0.01),
        Measure.LDTA: pytest.approx(90 + ankle_deg, abs=0.01),
    }
    axis = (at(0, 60, right=right), at(0, 120, right=right))
    sagittal = marks(
        projection=Projection.SAGITTAL,
        right=right,
        knee_line=line(0, 20, 25, knee_deg, right=right),
        ankle_line=line(0, 380, 15, ankle_deg, right=right),
        proximal_axis=axis,
        distal_axis=(at(0, 200, right=right), at(0, 300, right=right)),
    )
    assert found(sagittal, profile) == {
        Measure.PPTA: pytest.approx(90 + knee_deg, abs=0.01),
        Measure.ADTA: pytest.approx(90 + ankle_deg, abs=0.01),
    }


@given(st.floats(-12, 12), st.booleans())
def test_a_femur_by_its_distal_axis_and_its_head(profile, tilt_deg, right):
    axis = (at(0, 200, right=right), at(0, 300, right=right))
    knee = line(0, 430, 35, tilt_deg, right=right)
    frontal = marks(Bone.FEMUR, right=right, knee_line=knee, distal_axis=axis)
    assert found(frontal, profile) == {Measure.ALDFA: pytest.approx(90 + tilt_deg, abs=0.01)}
    with_head = replace(frontal, femoral_head=at(0, 0, right=right))
    assert found(with_head, profile)[Measure.MLDFA] == pytest.approx(90 + tilt_deg, abs=0.01)
    sagittal = marks(Bone.FEMUR, Projection.SAGITTAL, right=right, knee_line=knee, distal_axis=axis)
    assert found(sagittal, profile) == {Measure.PDFA: pytest.approx(90 - tilt_deg, abs=0.01)}


def test_what_is_not_marked_is_not_told(profile):
    assert joint_angles(marks(), SCALE, profile) == ()
    assert joint_angles(marks(Bone.FEMUR), SCALE, profile) == ()
    assert joint_angles(marks(knee_line=line(0, 20, 35, 0, right=True)), SCALE, profile) == ()


def test_the_uncertainty_is_that_of_a_short_line_or_of_a_reader(profile):
    short = marks(knee_line=line(0, 20, 35, 0, right=True), ankle_line=line(0, 380, 8, 0, right=True))
    mpta, ldta = joint_angles(short, SCALE, profile)
    assert mpta.sd_deg == profile.angle_reading_sd_deg
    assert ldta.sd_deg == pytest.approx(
        math.degrees(math.sqrt(2) * profile.joint_line_landmark_sd_mm / 16), abs=0.01
    )


def test_angles_come_with_the_film_reading(film, nail, profile):
    plain = replace(
        film(), knee_line=line(0, 20, 35, 3, right=True), ankle_line=line(0, 400, 15, -1, right=True)
    )
    read = read_film(plain, None, nail, profile)
    assert [a.measure for a in read.joint_angles] == [Measure.MPTA, Measure.LDTA]


def test_marks_and_angles_of_the_wrong_bone_are_refused():
    with pytest.raises(Contradiction, match="plafond is marked for the femur"):
        marks(Bone.FEMUR, ankle_line=line(0, 380, 15, 0, right=True))
    with pytest.raises(Contradiction, match="femoral head is marked for the tibia"):
        marks(femoral_head=at(0, 0, right=True))
    with pytest.raises(OutOfRange, match="no angle of the tibia"):
        JointAngle(bone=Bone.TIBIA, measure=Measure.MLDFA, deg=88.0)
