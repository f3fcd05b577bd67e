"""Cases as columns of the practice audit."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from limbwright.case.audit_columns import audit_columns, treated_bones
from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.course.alignment import Alignment
from limbwright.course.amendment import Amendment
from limbwright.course.complication import Complication, ComplicationKind, Remedy
from limbwright.course.course import Course, Treatment
from limbwright.course.outcome import outcome
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.course.visit import GainedLength, Visit
from limbwright.error import Contradiction
from limbwright.film.film import CalibrationType, Film, HeaderScale, Mark, ScaleEvidence
from limbwright.growth.growth import Sex
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.limb.view import Border
from limbwright.plan.circumstances import Zone
from limbwright.plan.decision import (
    BlockingScrew,
    BonePlan,
    FragmentPath,
    NailPath,
    Osteotomy,
    Place,
    Plan,
    ScrewDirection,
)
from limbwright.plan.goal import Approach, Goal
from limbwright.practice.audit.columns import LEVELS, columns_of
from limbwright.practice.audit.healing_index import healing_indices
from limbwright.practice.profile import Profile
from limbwright.quantity import Directed, Sense

OPERATED = date(2026, 3, 2)
ORIGIN = Place(anterior_mm=0.0, proximal_mm=0.0, lateral_mm=0.0)
SCREW = BlockingScrew(
    fragment=Fragment.PROXIMAL,
    side=Border.LATERAL,
    direction=ScrewDirection.ANTEROPOSTERIOR,
    depth_mm=90.0,
    from_osteotomy_mm=20.0,
    offset_mm=8.4,
    diameter_mm=5.0,
    drill_mm=4.2,
)


def day(number):
    return OPERATED + timedelta(days=number)


def bone_plan(bone=Bone.TIBIA, **given):
    values = {
        "bone": bone,
        "direction": Direction.ANTEGRADE,
        "approach": Approach.SUPRAPATELLAR,
        "lengthening_mm": 40.0,
        "osteotomy": Osteotomy(
            bone=bone, depth_mm=110.0, below_joint_mm=110.0, above_distal_joint_mm=240.0, off_apex_mm=None
        ),
        "path": NailPath(
            entry=ORIGIN,
            proximal=FragmentPath(fragment=Fragment.PROXIMAL, upper=ORIGIN, lower=ORIGIN),
            distal=FragmentPath(fragment=Fragment.DISTAL, upper=ORIGIN, lower=ORIGIN),
        ),
        "rotation_correction_deg": 0.0,
        "nail": Nail(
            name="invented 305",
            bone=bone,
            direction=Direction.ANTEGRADE,
            thick_diameter_mm=10.7,
            thin_diameter_mm=8.5,
            length_mm=305.0,
            stroke_mm=50.0,
            exposed_thin_mm=30.0,
            holes=(),
            elastic_modulus_gpa=114.0,
        ),
        "reamer_mm": 12.5,
        "blocking_screws": (SCREW, SCREW),
        "fibula": None,
        "pins": (),
        "calf_release": False,
    }
    return BonePlan(**(values | given))


def treatment(bone=Bone.TIBIA, operated_on=OPERATED, **given):
    """40 mm at 1 mm a day after 7 days: the last step is made on day 47."""
    phase = Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=4)
    prescription = Prescription(
        bone=bone, latency_days=7, phases=(phase,), target_mm=40.0, film_interval_days=14
    )
    return Treatment(operated_on=operated_on, prescription=prescription, **given)


def visit(number, *, bone=Bone.TIBIA, gained=None, valgus=None, procurvatum=None):
    said = [
        None if deg is None else Directed(magnitude=deg, direction=word, unit="deg")
        for deg, word in ((valgus, Sense.VALGUS), (procurvatum, Sense.PROCURVATUM))
    ]
    return Visit(
        seen_on=day(number),
        gained=() if gained is None else (GainedLength(bone=bone, measured_mm=gained),),
        alignment=() if said == [None, None] else (Alignment(bone=bone, frontal=said[0], sagittal=said[1]),),
    )


def case(course, *, plan=(), **given):
    values = {
        "id": "case-1",
        "side": Side.RIGHT,
        "patient": Patient(id="P1", sex=Sex.FEMALE, birth_date=date(1996, 3, 2)),
        "course": course,
        "plan": Plan(side=Side.RIGHT, bones=plan, staging=None, steps=(), findings=()) if plan else None,
    }
    return Case(**(values | given))


def only(course, **given):
    (row,) = treated_bones(case(course, **given), Profile())
    return row


def test_zones_are_named_alike_in_both_rooms() -> None:
    assert tuple(Zone) == LEVELS


def test_a_case_without_an_operation_has_no_row() -> None:
    assert treated_bones(case(None), Profile()) == ()
    assert len(audit_columns([case(None)], Profile()).columns) == 0


def test_a_healed_tibia_from_plan_to_end() -> None:
    course = Course(
        treatments=(treatment(consolidated_on=day(180)),),
        visits=(
            visit(14, gained=7.0, valgus=9.0),
            visit(49, gained=39.5, valgus=2.5, procurvatum=1.0),
            visit(180, gained=39.0, valgus=4.0),
        ),
        ended_on=day(200),
    )
    row = only(course, plan=(bone_plan(),))
    assert (row.case_id, row.bone, row.entry, row.level) == ("case-1", "tibia", "antegrade", "proximal shaft")
    assert row.age_years == pytest.approx(30.0, abs=0.01)
    assert (row.operated_on, row.followed_days, row.healed) == (OPERATED, 180.0, True)
    assert (row.planned_mm, row.gained_mm) == (40.0, 39.0)
    # Drift is read on the first film at full length; valgus is negative inside.
    assert (row.frontal_drift_deg, row.sagittal_drift_deg) == (-2.5, 1.0)
    assert (row.blocking_screws, row.calf_release) == (2, False)
    assert (row.problems, row.obstacles, row.minor_complications, row.major_complications) == (0, 0, 0, 0)
    assert (row.frontal_error_deg, row.mad_error_mm) == (None, None)


def test_without_plan_and_on_the_way_much_is_not_recorded_and_nothing_guessed() -> None:
    row = only(Course(treatments=(treatment(),), visits=(visit(14, gained=7.0, valgus=1.0),)))
    assert (row.entry, row.level, row.blocking_screws, row.calf_release) == ("", "", None, None)
    assert (row.healed, row.followed_days, row.planned_mm) == (False, 14.0, 40.0)
    assert (row.gained_mm, row.frontal_drift_deg, row.problems) == (None, None, None)


def test_a_bone_never_seen_again_has_no_follow_up() -> None:
    assert only(Course(treatments=(treatment(),))).followed_days is None


def test_a_later_operation_does_not_count_visits_before_it() -> None:
    course = Course(
        treatments=(treatment(Bone.FEMUR), treatment(operated_on=day(100))), visits=(visit(60, gained=3.0),)
    )
    femur, tibia = treated_bones(case(course), Profile())
    assert (femur.followed_days, tibia.followed_days) == (60.0, None)


def test_lengthening_that_ended_early_ends_when_it_ended() -> None:
    stop = Amendment(from_day=21, phases=(), target_mm=13.0, gained_mm=13.0)
    row = only(Course(treatments=(treatment(amendments=(stop,)),), visits=(visit(28, gained=12.5),)))
    assert (row.planned_mm, row.gained_mm) == (40.0, 12.5)


def event(kind=ComplicationKind.PAIN, **given):
    return Complication(kind=kind, seen_on=day(20), **given)


def test_adverse_events_are_counted_by_class_at_the_end_of_treatment() -> None:
    events = (
        event(bone=Bone.TIBIA, remedy=Remedy.NOT_OPERATIVE, resolved_on=day(30)),
        event(bone=Bone.TIBIA, remedy=Remedy.OPERATIVE, resolved_on=day(40)),
        event(bone=Bone.TIBIA),
        event(ComplicationKind.INFECTION, interferes_with_goal=True),
    )
    course = Course(treatments=(treatment(), treatment(Bone.FEMUR)), complications=events, ended_on=day(300))
    tibia, femur = treated_bones(case(course), Profile())
    # The infection belongs to no bone: it is counted once, with the first treated one.
    assert (tibia.problems, tibia.obstacles, tibia.minor_complications, tibia.major_complications) == (
        1,
        1,
        1,
        1,
    )
    assert (femur.problems, femur.major_complications) == (0, 0)
    going_on = only(Course(treatments=(treatment(),), complications=events))
    assert going_on.problems is None


@pytest.mark.parametrize(
    ("planned", "events", "ended", "released"),
    [
        (True, (), False, True),
        (False, (), True, False),
        (None, (), True, False),
        (False, (), False, None),
        (
            False,
            (event(ComplicationKind.JOINT_CONTRACTURE, bone=Bone.TIBIA, remedy=Remedy.OPERATIVE),),
            False,
            True,
        ),
        (
            False,
            (event(ComplicationKind.JOINT_CONTRACTURE, bone=Bone.TIBIA, remedy=Remedy.NOT_OPERATIVE),),
            True,
            False,
        ),
        (False, (event(ComplicationKind.INFECTION, bone=Bone.TIBIA, remedy=Remedy.OPERATIVE),), True, False),
    ],
)
def test_calf_release_is_known_from_plan_and_events(planned, events, ended, released) -> None:
    course = Course(treatments=(treatment(),), complications=events, ended_on=day(300) if ended else None)
    assert only(course, plan=(bone_plan(calf_release=planned),)).calf_release is released


def test_no_calf_release_is_not_told_without_the_plan_or_for_a_femur() -> None:
    assert only(Course(treatments=(treatment(),), ended_on=day(300))).calf_release is None
    femur = Course(treatments=(treatment(Bone.FEMUR),), ended_on=day(300))
    assert only(femur, plan=(bone_plan(Bone.FEMUR, calf_release=True),)).calf_release is None


def film(name, taken_on, *, ankle_lateral_mm, plateau_lateral_up_mm=0.0, standing=True):
    """Right leg, hip above knee; plateau level with the knee; the ankle lateral of the axis is valgus."""
    px = {
        Landmark.FEMORAL_HEAD_CENTRE: (0.0, 400.0),
        Landmark.LATERAL_FEMORAL_CONDYLE: (25.0, 0.0),
        Landmark.MEDIAL_FEMORAL_CONDYLE: (-25.0, 0.0),
        Landmark.FEMUR_KNEE_CENTRE: (0.0, 0.0),
        Landmark.TIBIA_KNEE_CENTRE: (0.0, -4.0),
        Landmark.LATERAL_PLATEAU: (25.0, -4.0 + plateau_lateral_up_mm),
        Landmark.MEDIAL_PLATEAU: (-25.0, -4.0 - plateau_lateral_up_mm),
        Landmark.ANKLE_CENTRE: (ankle_lateral_mm, -354.0),
        Landmark.LATERAL_PLAFOND: (ankle_lateral_mm + 12, -354.0),
        Landmark.MEDIAL_PLAFOND: (ankle_lateral_mm - 12, -354.0),
    }
    marks = {name: Mark(x_px=1500 - lateral * 2, y_px=2000 - up * 2) for name, (lateral, up) in px.items()}
    return Film(
        name=name,
        projection=Projection.FRONTAL,
        taken_on=taken_on,
        width_px=3000,
        height_px=4000,
        standing=standing,
        scale=ScaleEvidence(
            header=HeaderScale(pixel_spacing_mm=(0.5, 0.5), calibration_type=CalibrationType.FIDUCIAL)
        ),
        right=marks,
    )


BEFORE = film("before", day(-10), ankle_lateral_mm=60.0)
HEALED = Course(treatments=(treatment(consolidated_on=day(180)),), ended_on=day(200))


def test_alignment_at_the_end_is_held_against_the_target() -> None:
    row = only(HEALED, films=(BEFORE, film("end", day(190), ankle_lateral_mm=30.0)))
    # MPTA is 90 deg + atan(30 / 350) = 94.899; the norm is 87; more than the norm is valgus, negative inside.
    assert row.frontal_error_deg == pytest.approx(-(90 + np.degrees(np.arctan2(30, 350)) - 87), abs=0.05)
    assert row.mad_error_mm is not None
    assert row.mad_error_mm < 0
    assert row.sagittal_error_deg is None


def test_a_target_of_the_goal_goes_before_the_norm_and_the_last_film_before_earlier_ones() -> None:
    films = (
        BEFORE,
        film("early", day(60), ankle_lateral_mm=50.0),
        film("end", day(190), ankle_lateral_mm=0.0),
        film("lying", day(195), ankle_lateral_mm=50.0, standing=False),
    )
    row = only(HEALED, films=films, goal=Goal(targets_deg={Measure.MPTA: 88.0}))
    assert row.frontal_error_deg == pytest.approx(-2.0, abs=0.01)


def test_a_film_on_the_way_or_an_alignment_not_meant_to_change_gives_no_error() -> None:
    way = film("way", day(30), ankle_lateral_mm=30.0)
    assert only(HEALED, films=(BEFORE, way)).frontal_error_deg is None
    end = film("end", day(190), ankle_lateral_mm=30.0)
    left = Goal(correct_alignment=False)
    assert only(HEALED, films=(BEFORE, end), goal=left).frontal_error_deg is None
    assert only(HEALED, films=(end,)).frontal_error_deg is None


def test_the_axis_of_a_leg_is_counted_once() -> None:
    both = Course(treatments=(treatment(), treatment(Bone.FEMUR)), ended_on=day(200))
    end = film("end", day(190), ankle_lateral_mm=30.0)
    tibia, femur = treated_bones(case(both, films=(BEFORE, end)), Profile())
    assert tibia.mad_error_mm is not None
    assert femur.mad_error_mm is None
    assert femur.frontal_error_deg is not None


def test_columns_of_several_cases_and_the_same_case_twice() -> None:
    one = case(HEALED)
    two = replace(one, id="case-2", course=Course(treatments=(treatment(),)))
    given = audit_columns([one, two], Profile())
    columns = given.columns
    assert given.left_out == ()
    assert columns.case_id.tolist() == ["case-1", "case-2"]
    assert columns.healed.tolist() == [True, False]
    with pytest.raises(Contradiction, match="the case 'case-1' is there twice"):
        audit_columns([one, two, one], Profile())


def test_the_nail_that_was_put_in_tells_the_entry() -> None:
    nail = bone_plan(Bone.FEMUR).nail
    other = replace(nail, direction=Direction.RETROGRADE)
    course = Course(treatments=(treatment(Bone.FEMUR, nail=other),))
    assert only(course, plan=(bone_plan(Bone.FEMUR),)).entry == "retrograde"
    assert only(course).entry == "retrograde"


def test_length_and_index_are_those_of_the_outcome() -> None:
    course = Course(
        treatments=(treatment(consolidated_on=day(180)),),
        visits=(visit(14, gained=7.0), visit(49, gained=39.5), visit(180, gained=39.0)),
    )
    row = only(course)
    (bone,) = outcome(course, Profile()).bones
    assert row.gained_mm == bone.achieved.value
    index = healing_indices(columns_of([row]), min_gained_mm=10)
    assert index[0] == pytest.approx(bone.healing_index_days_per_cm)


def test_a_case_that_contradicts_itself_is_left_out_by_name_and_the_others_count() -> None:
    good = case(HEALED)
    infant = Patient(id="P2", sex=Sex.MALE, age_years=1.0)
    unborn = replace(
        good, id="unborn", patient=infant, films=(film("first", date(2029, 1, 1), ankle_lateral_mm=0.0),)
    )
    slow = Phase(kind=PhaseKind.STEADY, step_mm=0.001, steps_per_day=1)
    endless = treatment()
    endless = replace(endless, prescription=replace(endless.prescription, phases=(slow,)))
    never = replace(good, id="never", course=Course(treatments=(endless,)))
    late = replace(good, id="late", course=Course(treatments=(treatment(consolidated_on=day(30_000)),)))
    given = audit_columns([unborn, good, never, late], Profile())
    assert given.columns.case_id.tolist() == ["case-1"]
    found = {one.case_id: one for one in given.left_out}
    assert set(found) == {"unborn", "never", "late"}
    assert "age is -" in found["unborn"].found
    assert "longer than 2000 days" in found["never"].found
    assert "30000 days, expected 0 to 20000" in found["late"].found
    assert found["never"].next_step.startswith("Prescribe larger steps")


def test_any_case_that_can_exist_is_counted_or_left_out_by_name(random_cases) -> None:
    @given(random_cases)
    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    def check(subject) -> None:
        given = audit_columns([subject], Profile())
        treated = 0 if subject.course is None else len(subject.course.treatments)
        assert len(given.columns) == (0 if given.left_out else treated)

    check()
