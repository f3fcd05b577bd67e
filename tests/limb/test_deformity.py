from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.axes import AxisKind, Construction, Part, axes
from limbwright.limb.deformity import Pattern, deformity
from limbwright.limb.landmark import Landmark
from limbwright.limb.template import templates
from limbwright.quantity import Sense

POPULATION = templates(None, age_years=30)
ANKLE = {Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND, Landmark.ANKLE_CENTRE}
DISTAL = {Landmark.TIBIA_DISTAL_SHAFT_UPPER, Landmark.TIBIA_DISTAL_SHAFT_LOWER} | ANKLE
MIDDLE = {Landmark.TIBIA_MIDDLE_SHAFT_UPPER, Landmark.TIBIA_MIDDLE_SHAFT_LOWER}


def tibia(frontal_marks):
    """A normal leg with a plumb tibia 1 000 mm up whose middle is marked too; shaft and knee level."""
    marks = frontal_marks(mldfa=87.0, mpta=87.0, jlca=0.0, femur_lean=0.0)
    top, low = (marks[k] for k in (Landmark.TIBIA_PROXIMAL_SHAFT_UPPER, Landmark.TIBIA_DISTAL_SHAFT_LOWER))
    down = (low - top) / abs(low - top)
    marks[Landmark.TIBIA_MIDDLE_SHAFT_UPPER] = top + 80 * down
    marks[Landmark.TIBIA_MIDDLE_SHAFT_LOWER] = top + 120 * down
    return marks, top, down


def test_a_normal_tibia_is_straight(frontal_marks, of_points):
    marks, _, _ = tibia(frontal_marks)
    result = deformity(of_points(marks), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.STRAIGHT
    assert len(result.parts) == 1
    assert result.apexes == ()
    assert result.resolution is None
    assert result.findings == ()
    assert result.total.value == pytest.approx(0, abs=1e-2)


def test_one_bend_between_the_parts_is_one_apex(frontal_marks, of_points, bend):
    marks, top, down = tibia(frontal_marks)
    at = top + 70 * down
    points = bend(marks, at, 16, lambda k: k in DISTAL | MIDDLE)
    result = deformity(of_points(points, sd_mm=0.5), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.ONE_APEX
    (single,) = result.apexes
    assert single.point == pytest.approx((at.real, at.imag))
    knee = marks[Landmark.TIBIA_KNEE_CENTRE]
    assert single.from_proximal_joint.value == pytest.approx(knee.imag - at.imag, abs=1e-6)
    assert result.shown().direction is Sense.VARUS
    assert result.total.value == pytest.approx(16)
    assert [a.part for a in result.parts] == [Part.PROXIMAL, Part.DISTAL]


@settings(max_examples=25, deadline=None)
@given(first=st.floats(8, 25), second=st.floats(-25, 25).filter(lambda a: abs(a) > 8))
def test_two_bends_are_two_apexes_with_an_intermediate_axis(frontal_marks, of_points, bend, first, second):
    marks, top, down = tibia(frontal_marks)
    lower, upper = top + 130 * down, top + 70 * down
    points = bend(marks, lower, second, lambda k: k in DISTAL)
    points = bend(points, upper, first, lambda k: k in DISTAL | MIDDLE)
    result = deformity(of_points(points, sd_mm=0.5), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.SEVERAL
    one, two = result.apexes
    assert one.angulation.value == pytest.approx(first)
    assert two.angulation.value == pytest.approx(second)
    assert one.point == pytest.approx((upper.real, upper.imag), abs=1e-6)
    assert one.angulation.value + two.angulation.value == pytest.approx(result.total.value)
    assert one.distal == two.proximal == result.parts[1]
    assert result.parts[1].part is Part.MIDDLE
    if abs(first + second) > 3 and first * second > 0:
        # Both bends to the same side: the one resolving apex lies between the two.
        level = result.resolution.from_proximal_joint.value
        assert one.from_proximal_joint.value < level
        assert result.resolution.from_distal_joint.value > 0


def test_without_a_middle_line_an_apex_away_from_the_bend_is_reported(frontal_marks, of_points, bend):
    marks, top, down = tibia(frontal_marks)
    points = {k: z for k, z in marks.items() if k not in MIDDLE}
    at = top + 100 * down
    points = bend(points, at, 12, lambda k: k in DISTAL)
    shifted = {k: z + 16 if k in DISTAL else z for k, z in points.items()}
    plain = deformity(of_points(points, sd_mm=0.3), Bone.TIBIA, POPULATION)
    assert plain.pattern is Pattern.ONE_APEX
    assert "apex-away-from-bend" not in [f.id for f in plain.findings]
    result = deformity(of_points(shifted, sd_mm=0.3), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.WITH_TRANSLATION
    assert result.findings[0].id == "apex-away-from-bend"
    assert "lies in a stretch of shaft that was marked as straight" in result.findings[0].words


def test_a_shift_without_angle_is_translation_only(frontal_marks, of_points):
    marks, _, _ = tibia(frontal_marks)
    points = {k: z + 14 if k in DISTAL else z for k, z in marks.items() if k not in MIDDLE}
    result = deformity(of_points(points), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.TRANSLATION
    assert result.apexes[0].translation.value == pytest.approx(14)
    assert result.apexes[0].translation_shown().direction is Sense.LATERAL


def test_a_joint_line_out_of_range_is_an_apex_near_the_joint(frontal_marks, of_points):
    marks = frontal_marks(mldfa=87.0, mpta=76.0, jlca=0.0, femur_lean=0.0)
    result = deformity(of_points(marks, sd_mm=0.3), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.ONE_APEX
    (single,) = result.apexes
    assert single.proximal.construction is Construction.JOINT_LINE
    assert single.angulation.value == pytest.approx(11)
    assert single.from_proximal_joint.value == pytest.approx(0, abs=1)


def test_an_apex_outside_the_bone_is_reported(frontal_marks, of_points, bend):
    marks, top, down = tibia(frontal_marks)
    points = {k: z for k, z in marks.items() if k not in MIDDLE}
    result = deformity(
        of_points(bend(points, top - 140 * down, 10, lambda k: k in DISTAL), sd_mm=0.2),
        Bone.TIBIA,
        POPULATION,
    )
    assert {"apex-away-from-bend", "apex-outside-bone"} <= {f.id for f in result.findings}
    assert "(-60 mm below its proximal joint)" in result.findings[1].words


def test_a_hip_deformity_that_the_shaft_hides_is_reported(frontal_marks, of_points):
    straight = deformity(of_points(frontal_marks(), sd_mm=0.5), Bone.FEMUR, POPULATION)
    assert straight.findings == ()
    result = deformity(of_points(frontal_marks(mlpfa=105.0), sd_mm=0.5), Bone.FEMUR, POPULATION)
    assert [f.id for f in result.findings] == ["axes-disagree"]
    assert "15.0 degrees different when drawn by joint line and template angle" in result.findings[0].words


def test_mechanical_axes_serve_when_no_shaft_is_marked(frontal_marks, of_points):
    marks = {k: z for k, z in frontal_marks(mldfa=98.0).items() if "shaft" not in k}
    result = deformity(of_points(marks, sd_mm=0.3), Bone.FEMUR, POPULATION)
    assert {a.kind for a in result.parts} == {AxisKind.MECHANICAL}
    assert result.total.value == pytest.approx(10)


def test_the_bow_of_the_femur_is_noted(sagittal_marks, of_points):
    view = of_points(sagittal_marks(pdfa=70.0), projection=Projection.SAGITTAL, sd_mm=0.3)
    marks = dict(view.spots)
    result = deformity(replace(view, spots=marks), Bone.FEMUR, POPULATION)
    assert result.shown().direction is Sense.PROCURVATUM
    assert result.total.value == pytest.approx(13)
    assert "femoral-bow" in [f.id for f in result.findings]


def test_a_bone_without_two_axes_is_missing(frontal_marks, of_points):
    marks = frontal_marks()
    only = {k: marks[k] for k in (Landmark.TIBIA_PROXIMAL_SHAFT_UPPER, Landmark.TIBIA_PROXIMAL_SHAFT_LOWER)}
    with pytest.raises(Missing, match="fewer than two axes of the tibia can be drawn on the frontal film"):
        deformity(of_points(only), Bone.TIBIA, POPULATION)


def test_without_scale_the_pattern_and_the_angles_remain(frontal_marks, of_points, bend):
    marks, top, down = tibia(frontal_marks)
    points = bend(marks, top + 70 * down, 16, lambda k: k in DISTAL | MIDDLE)
    result = deformity(of_points(points, sd_mm=0.5, scaled=False), Bone.TIBIA, POPULATION)
    assert result.pattern is Pattern.ONE_APEX
    assert result.total.value == pytest.approx(16)
    assert result.apexes[0].point is None


def test_a_tibia_film_of_its_own_does_not_borrow_the_femur(frontal_marks, of_points):
    marks, _, _ = tibia(frontal_marks)
    view = of_points(marks)
    apart = {
        k: replace(s, patch="tibia film") if k.startswith(("tibia", "ankle")) or "pla" in k else s
        for k, s in view.spots.items()
    }
    drawn = axes(replace(view, spots=apart), Bone.TIBIA, POPULATION)
    assert Construction.NEIGHBOUR not in {a.construction for a in drawn}
    assert Construction.NEIGHBOUR in {a.construction for a in axes(view, Bone.TIBIA, POPULATION)}
    no_angles = axes(view, Bone.TIBIA, {})
    assert {a.construction for a in no_angles} == {Construction.SHAFT_LINE}


def test_two_films_of_one_bone_without_common_landmarks_are_not_mixed(frontal_marks, of_points, bend):
    marks, top, down = tibia(frontal_marks)
    view = of_points(bend(marks, top + 70 * down, 16, lambda k: k in DISTAL | MIDDLE), sd_mm=0.5)
    spots = {k: replace(s, patch="ankle film") if k in DISTAL else s for k, s in view.spots.items()}
    result = deformity(replace(view, spots=spots), Bone.TIBIA, POPULATION)
    assert result.total.value == pytest.approx(16)
    assert [a.part for a in result.parts] == [Part.PROXIMAL, Part.MIDDLE]
