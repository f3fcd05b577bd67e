import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Refused
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.apex import ApexOutcome, apex, axis_offset_mm, translation_at
from limbwright.limb.axes import AxisKind, Construction, Part, axes
from limbwright.limb.landmark import Landmark
from limbwright.limb.lines import Line, Point
from limbwright.limb.measure import readings
from limbwright.limb.template import templates
from limbwright.limb.uncertainty import drawn
from limbwright.quantity import Sense

POPULATION = templates(None, age_years=30)
BELOW = {
    Landmark.TIBIA_DISTAL_SHAFT_UPPER,
    Landmark.TIBIA_DISTAL_SHAFT_LOWER,
    Landmark.MEDIAL_PLAFOND,
    Landmark.LATERAL_PLAFOND,
    Landmark.ANKLE_CENTRE,
}


def find(view, bone, part, *, kind=AxisKind.ANATOMIC, construction=Construction.SHAFT_LINE, known=POPULATION):
    return next(
        a for a in axes(view, bone, known) if (a.part, a.kind, a.construction) == (part, kind, construction)
    )


def shaft_apex(view, bone=Bone.TIBIA, **options):
    return apex(view, find(view, bone, Part.PROXIMAL), find(view, bone, Part.DISTAL), **options)


def straight_tibia(frontal_marks):
    """A leg with a plumb tibia whose shaft line runs 4 mm medial of the knee centre."""
    marks = frontal_marks(mldfa=87.0, mpta=87.0, jlca=0.0, femur_lean=0.0)
    knee = marks[Landmark.TIBIA_KNEE_CENTRE]
    shaft_at_knee = knee.real - 4 * math.cos(math.radians(3))
    return marks, knee, shaft_at_knee


@settings(max_examples=40, deadline=None)
@given(angle=st.one_of(st.floats(-35, -2.5), st.floats(2.5, 35)), level=st.floats(145, 215))
def test_a_tibia_bent_at_a_level_has_its_apex_there(frontal_marks, of_points, bend, angle, level):
    marks, knee, shaft = straight_tibia(frontal_marks)
    at = shaft + 1j * (knee.imag - level)
    view = of_points(bend(marks, at, angle, lambda k: k in BELOW))
    result = shaft_apex(view)
    assert result.outcome is ApexOutcome.APEX
    assert result.angulation.value == pytest.approx(angle, abs=1e-6)
    assert result.shown().direction is (Sense.VARUS if angle > 0 else Sense.VALGUS)
    assert result.point == pytest.approx((at.real, at.imag), abs=1e-5)
    assert result.from_proximal_joint.value == pytest.approx(level, abs=1e-5)
    assert result.from_distal_joint.value == pytest.approx(360 - level, abs=1e-5)
    assert result.translation is None


def test_either_leg_has_the_same_apex(frontal_marks, of_points, bend):
    marks, knee, shaft = straight_tibia(frontal_marks)
    points = bend(marks, shaft + 1j * (knee.imag - 180), 12, lambda k: k in BELOW)
    right, left = (shaft_apex(of_points(points, side=side)) for side in Side)
    assert right == left


def test_procurvatum_of_the_tibia_in_the_sagittal_plane(sagittal_marks, of_points, bend):
    marks = sagittal_marks(tibia_lean=0.0)
    at = 20 + 1j * (450 - 170)
    below = BELOW | {Landmark.PLAFOND_ANTERIOR, Landmark.PLAFOND_POSTERIOR}
    view = of_points(bend(marks, at, 15, lambda k: k in below), projection=Projection.SAGITTAL)
    result = shaft_apex(view)
    assert result.shown().direction is Sense.PROCURVATUM
    assert result.angulation.value == pytest.approx(15)
    assert result.point == pytest.approx((at.real, at.imag))


@pytest.mark.parametrize(("shift", "outcome"), [(3, ApexOutcome.NONE), (12, ApexOutcome.TRANSLATION)])
def test_parallel_axes_are_named_not_divided(frontal_marks, of_points, shift, outcome):
    marks, _, _ = straight_tibia(frontal_marks)
    moved = {k: z + shift if k in BELOW else z for k, z in marks.items()}
    result = shaft_apex(of_points(moved))
    assert result.outcome is outcome
    assert result.point is None
    assert result.from_proximal_joint is None
    assert result.translation.value == pytest.approx(shift)
    assert result.translation_shown().direction is Sense.LATERAL


def test_exactly_parallel_axes_have_no_apex_even_with_no_limit(frontal_marks, of_points):
    marks, _, _ = straight_tibia(frontal_marks)
    result = shaft_apex(of_points(marks), parallel_below_deg=0.0)
    assert result.outcome is ApexOutcome.NONE


def test_an_apex_above_the_knee_is_outside_the_bone(frontal_marks, of_points, bend):
    marks, knee, shaft = straight_tibia(frontal_marks)
    view = of_points(bend(marks, shaft + 1j * (knee.imag + 60), 10, lambda k: k in BELOW))
    result = shaft_apex(view)
    assert result.outcome is ApexOutcome.OUTSIDE
    assert result.from_proximal_joint.value == pytest.approx(-60)


def test_without_scale_there_is_an_angle_but_no_level(frontal_marks, of_points, bend):
    marks, knee, shaft = straight_tibia(frontal_marks)
    view = of_points(bend(marks, shaft + 1j * (knee.imag - 180), 12, lambda k: k in BELOW), scaled=False)
    result = shaft_apex(view)
    assert result.outcome is ApexOutcome.WITHOUT_SCALE
    assert result.angulation.value == pytest.approx(12)
    assert result.point is None
    with pytest.raises(Refused, match="needs a scale and its proximal joint"):
        translation_at(view, result, from_proximal_joint_mm=100)


def test_translation_at_a_level_away_from_the_apex(frontal_marks, of_points, bend):
    marks, knee, shaft = straight_tibia(frontal_marks)
    view = of_points(bend(marks, shaft + 1j * (knee.imag - 180), 20, lambda k: k in BELOW))
    result = shaft_apex(view)
    assert translation_at(view, result, from_proximal_joint_mm=180).value == pytest.approx(0, abs=1e-9)
    # Varus: below the apex the distal axis runs medial of the proximal one, above it lateral.
    low = translation_at(view, result, from_proximal_joint_mm=200)
    assert low.value == pytest.approx(-20 * math.tan(math.radians(20)))
    assert low.sd > 0
    high = translation_at(view, result, from_proximal_joint_mm=180 - 27.4748)
    assert high.value == pytest.approx(10, abs=1e-4)


def test_offset_of_two_lines_by_hand():
    up = Line(through=Point(0, 100), lean_deg=0)
    low = Line(through=Point(5, 0), lean_deg=0)
    assert axis_offset_mm(up, low, along_proximal_mm=30) == pytest.approx(5)


def test_joint_lines_at_normal_angles_find_the_same_apex(frontal_marks, of_points, bend):
    marks, knee, shaft = straight_tibia(frontal_marks)
    view = of_points(bend(marks, shaft + 1j * (knee.imag - 180), 14, lambda k: k in BELOW))
    pairs = [
        (up, low)
        for up in axes(view, Bone.TIBIA, POPULATION)
        for low in axes(view, Bone.TIBIA, POPULATION)
        if (up.part, low.part) == (Part.PROXIMAL, Part.DISTAL) and up.kind is low.kind
    ]
    # Shaft or joint above and below: four anatomic pairs; joint or femur above, joint below: two mechanical.
    assert len(pairs) == 6
    for up, low in pairs:
        result = apex(view, up, low)
        assert result.angulation.value == pytest.approx(14, abs=1e-6)
        assert result.from_proximal_joint.value == pytest.approx(180, abs=0.6)


def test_a_deformed_femur_is_not_used_as_neighbour(frontal_marks, of_points):
    view = of_points(frontal_marks(mldfa=98.0))
    assert not [a for a in axes(view, Bone.TIBIA, POPULATION) if a.construction is Construction.NEIGHBOUR]
    assert [a for a in axes(view, Bone.FEMUR, POPULATION) if a.construction is Construction.NEIGHBOUR]


@pytest.mark.parametrize("angle", [-12.0, 15.0])
def test_femur_by_mechanical_and_anatomic_axes(frontal_marks, of_points, bend, angle):
    marks = frontal_marks(mldfa=88.0, mlpfa=90.0, ama=7.0)
    low = marks[Landmark.FEMUR_PROXIMAL_SHAFT_LOWER]
    down = marks[Landmark.FEMUR_DISTAL_SHAFT_UPPER] - low
    at = low + 0.5 * down
    moving = {k for k in marks if k.startswith("tibia") or k.endswith(("plateau", "plafond", "condyle"))}
    moving |= {
        Landmark.FEMUR_DISTAL_SHAFT_UPPER,
        Landmark.FEMUR_DISTAL_SHAFT_LOWER,
        Landmark.FEMUR_KNEE_CENTRE,
        Landmark.ANKLE_CENTRE,
    }
    view = of_points(bend(marks, at, angle, lambda k: k in moving))
    anatomic = shaft_apex(view, Bone.FEMUR)
    assert anatomic.angulation.value == pytest.approx(angle)
    assert anatomic.point == pytest.approx((at.real, at.imag))
    mechanical = apex(
        view,
        find(view, Bone.FEMUR, Part.PROXIMAL, kind=AxisKind.MECHANICAL, construction=Construction.JOINT_LINE),
        find(view, Bone.FEMUR, Part.DISTAL, kind=AxisKind.MECHANICAL, construction=Construction.JOINT_LINE),
    )
    assert mechanical.angulation.value == pytest.approx(angle)
    by_shaft = find(
        view, Bone.FEMUR, Part.PROXIMAL, kind=AxisKind.MECHANICAL, construction=Construction.HIP_AND_SHAFT
    )
    assert by_shaft.line.lean_deg == pytest.approx(mechanical.proximal.line.lean_deg)
    joint = find(view, Bone.FEMUR, Part.DISTAL, construction=Construction.JOINT_LINE)
    # The shaft was drawn 10 mm medial of the knee centre, at 81 degrees to the joint line.
    assert joint.line.lean_deg == pytest.approx(anatomic.distal.line.lean_deg)


def test_the_other_legs_angle_draws_the_axis(frontal, frontal_marks, of_points):
    other = templates(readings(frontal(mpta=89.5), age_years=30), age_years=30)
    view = of_points(frontal_marks(mpta=89.5))
    joint = find(view, Bone.TIBIA, Part.PROXIMAL, construction=Construction.JOINT_LINE, known=other)
    shaft = find(view, Bone.TIBIA, Part.PROXIMAL)
    assert joint.line.lean_deg == pytest.approx(shaft.line.lean_deg)


def test_uncertainty_of_the_apex_agrees_with_random_draws(frontal_marks, of_points, bend):
    marks, knee, shaft = straight_tibia(frontal_marks)
    view = of_points(bend(marks, shaft + 1j * (knee.imag - 180), 25, lambda k: k in BELOW), sd_mm=0.5)
    result = shaft_apex(view)
    rng = np.random.Generator(np.random.PCG64(5))
    draws = [shaft_apex_numbers(drawn(view, rng=rng)) for _ in range(1500)]
    angles, levels = np.array(draws).T
    assert angles.std(ddof=1) == pytest.approx(result.angulation.sd, rel=0.06)
    assert levels.std(ddof=1) == pytest.approx(result.from_proximal_joint.sd, rel=0.06)


def shaft_apex_numbers(view):
    """Angle and level by plain algebra, without the package."""
    z = {k: complex(s.across_mm, s.proximal_mm) for k, s in view.spots.items()}
    a = z[Landmark.TIBIA_PROXIMAL_SHAFT_UPPER]
    u = z[Landmark.TIBIA_PROXIMAL_SHAFT_LOWER] - a
    b = z[Landmark.TIBIA_DISTAL_SHAFT_UPPER]
    v = z[Landmark.TIBIA_DISTAL_SHAFT_LOWER] - b
    s = ((b - a).conjugate() * v).imag / (u.conjugate() * v).imag
    cross = a + s * u
    level = ((cross - z[Landmark.TIBIA_KNEE_CENTRE]) * u.conjugate()).real / abs(u)
    return math.degrees(math.atan2((u.conjugate() * v).imag, (u.conjugate() * v).real)), level


def test_a_template_adds_its_own_uncertainty(frontal_marks, of_points):
    view = of_points(frontal_marks(mpta=80.0), sd_mm=0.0, scale_relative_sd=0.0)
    joint = find(view, Bone.TIBIA, Part.PROXIMAL, construction=Construction.JOINT_LINE)
    result = apex(view, joint, find(view, Bone.TIBIA, Part.DISTAL))
    assert result.angulation.value == pytest.approx(7)
    assert result.angulation.sd == pytest.approx(1.25, rel=1e-6)
    # A joint point known to 4 mm moves the crossing along the distal axis by 4 / sin 7 degrees.
    angle = math.radians(7)
    distance = result.from_proximal_joint.value
    assert result.from_proximal_joint.sd > 4 / math.tan(angle)
    assert abs(distance) < 40


def test_axes_of_two_bones_or_two_kinds_do_not_belong_together(frontal):
    view = frontal()
    tibia = find(view, Bone.TIBIA, Part.DISTAL)
    with pytest.raises(Refused, match="the anatomic axis of the proximal femur and the anatomic axis of the"):
        apex(view, find(view, Bone.FEMUR, Part.PROXIMAL), tibia)
    mechanical = find(
        view, Bone.TIBIA, Part.PROXIMAL, kind=AxisKind.MECHANICAL, construction=Construction.JOINT_LINE
    )
    with pytest.raises(Refused, match="the mechanical axis of the proximal tibia"):
        apex(view, mechanical, tibia)
