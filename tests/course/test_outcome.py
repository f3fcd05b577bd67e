from dataclasses import replace
from datetime import date, timedelta

import pytest

from limbwright.course import change
from limbwright.course.clinical import Clinical
from limbwright.course.complication import Complication, ComplicationKind, PaleyClass, Remedy
from limbwright.course.course import Course
from limbwright.course.index import accuracy_percent, days_per_cm, precision_percent
from limbwright.course.joint_angle import JointAngle
from limbwright.course.outcome import bone_outcome, outcome
from limbwright.course.score import Score
from limbwright.error import OutOfRange, Refused
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.circumstances import Examination
from limbwright.quantity import Sense

OPERATION = date(2026, 3, 2)
BEFORE = Examination(knee_flexion_deg=140.0, knee_extension_loss_deg=0.0, ankle_dorsiflexion_deg=12.0)


@pytest.fixture
def healed(tibia):
    return replace(tibia, consolidated_on=OPERATION + timedelta(days=140))


@pytest.fixture
def visits(visit):
    end = Clinical(knee_flexion_deg=135.0, knee_extension_loss_deg=0.0, ankle_dorsiflexion_deg=0.0)
    return (
        visit(14, mm=6.0, varus=-0.5),
        visit(28, mm=16.5, varus=-1.5),
        visit(56, mm=34.0, varus=-2.0, procurvatum=1.0),
        visit(140, ratios=(0.95,) * 4, clinical=end),
    )


def test_length_indices_alignment_and_motion(healed, visits, profile):
    found = bone_outcome(healed, visits, profile, before=BEFORE)
    assert found.achieved.value == 34.0
    assert found.accuracy_percent == pytest.approx(100 * (1 - 1 / 35))
    assert found.healing_index_days_per_cm == pytest.approx(140 / 3.4)
    assert found.distraction_index_days_per_cm == pytest.approx(53 / 3.4)
    assert found.maturation_index_days_per_cm == pytest.approx(87 / 3.4)
    # 6 of 6.25, 16.5 of 16.75, 34 of 35
    assert found.precision_percent == pytest.approx(98.7, abs=0.15)
    assert (found.frontal.magnitude, found.frontal.direction) == (2.0, Sense.VALGUS)
    assert found.sagittal.direction is Sense.PROCURVATUM
    assert [(m.name, m.lost_deg()) for m in found.motion] == [
        ("knee flexion", 5.0),
        ("loss of knee extension", 0.0),
        ("ankle dorsiflexion, knee straight", 12.0),
    ]
    assert [f.id for f in found.findings] == ["outcome-motion-lost"]
    assert "12 deg before, 0 deg at the end, 12 deg worse" in found.findings[0].words


def test_little_recorded_gives_little(tibia, profile):
    found = bone_outcome(tibia, (), profile)
    assert (found.achieved, found.accuracy_percent, found.precision_percent) == (None, None, None)
    assert (found.healing_index_days_per_cm, found.frontal, found.motion) == (None, None, ())
    assert [f.id for f in found.findings] == ["outcome-length-not-read", "outcome-not-consolidated"]


def test_a_length_off_the_plan_is_said(healed, visit, profile):
    off = bone_outcome(healed, (visit(60, mm=29.0),), profile)
    assert [f.id for f in off.findings] == ["outcome-length-off"]
    assert "29.0 mm of 35 mm planned: 6.0 mm less, beyond 5 mm" in off.findings[0].words
    assert bone_outcome(healed, (visit(60, mm=31.0),), profile).findings == ()
    more = bone_outcome(healed, (visit(60, mm=41.0),), profile)
    assert "6.0 mm more" in more.findings[0].words


def test_loss_of_extension_counts_the_other_way(healed, visit, profile):
    stiff = Clinical(knee_extension_loss_deg=15.0)
    found = bone_outcome(healed, (visit(60, mm=35.0, clinical=stiff),), profile, before=BEFORE)
    lost = {m.name: m.lost_deg() for m in found.motion}
    assert lost == {
        "knee flexion": None,
        "loss of knee extension": 15.0,
        "ankle dorsiflexion, knee straight": None,
    }


def test_a_bone_never_lengthened_has_no_index(tibia, visit, profile):
    never = change.amended(tibia, change.ended(from_day=3, gained_mm=0.0))
    found = bone_outcome(never, (visit(30, mm=0.2),), profile)
    assert found.distraction_index_days_per_cm is None


def test_events_are_classified_and_counted(healed, visits, profile):
    events = (
        Complication(
            kind=ComplicationKind.JOINT_CONTRACTURE,
            seen_on=date(2026, 5, 1),
            bone=Bone.TIBIA,
            remedy=Remedy.OPERATIVE,
            resolved_on=date(2026, 6, 1),
        ),
        Complication(
            kind=ComplicationKind.PAIN,
            seen_on=date(2026, 4, 1),
            remedy=Remedy.NOT_OPERATIVE,
            resolved_on=date(2026, 4, 20),
        ),
        Complication(kind=ComplicationKind.NERVE_LESION, seen_on=date(2026, 4, 1), bone=Bone.FEMUR),
    )
    scores = (
        Score(name="b", on=date(2026, 3, 1), value=40, worst=0, best=100),
        Score(name="a", on=date(2027, 3, 1), value=80, worst=0, best=100),
        Score(name="a", on=date(2026, 3, 1), value=50, worst=0, best=100),
    )
    course = Course(
        treatments=(healed,),
        visits=visits,
        complications=events,
        scores=scores,
        ended_on=date(2027, 4, 1),
    )
    found = outcome(course, profile, before=BEFORE)
    assert [e.paley for e in found.events] == [
        PaleyClass.OBSTACLE,
        PaleyClass.PROBLEM,
        PaleyClass.MINOR_COMPLICATION,
    ]
    assert found.count(PaleyClass.OBSTACLE) == 1
    assert [(s.name, s.on.year) for s in found.scores] == [("a", 2026), ("a", 2027), ("b", 2026)]


def test_a_film_on_the_way_is_not_the_end(healed, visit, profile):
    found = bone_outcome(healed, (visit(42, mm=27.0),), profile)
    assert found.achieved is None
    assert [f.id for f in found.findings] == ["outcome-length-not-read"]


def test_formulas_refuse_what_has_no_meaning():
    with pytest.raises(OutOfRange, match=r"planned length is 0 mm"):
        accuracy_percent(planned_mm=0.0, achieved_mm=5.0)
    with pytest.raises(Refused, match=r"2 films with a length, expected 3 or more"):
        precision_percent((1.0, 0.9))
    with pytest.raises(OutOfRange, match=r"length gained is 0 mm"):
        days_per_cm(days=100, gained_mm=0.0)
    assert precision_percent((0.95, 0.95, 0.95)) == 100.0


def test_joint_angles_of_the_first_and_of_the_last_film(tibia, profile, visit):
    def seen(number, **angles):
        read = tuple(
            JointAngle(bone=Bone.TIBIA, measure=Measure(name), deg=deg, sd_deg=1.5)
            for name, deg in angles.items()
        )
        return replace(visit(number, mm=1.0), joint_angles=read)

    visits = (seen(1, MPTA=87.0), seen(14, MPTA=88.5, LDTA=89.0), visit(28, mm=10.0))
    found = bone_outcome(tibia, visits, profile)
    assert [(a.measure, a.first_deg, a.end.value, a.end.sd) for a in found.joint_angles] == [
        (Measure.MPTA, 87.0, 88.5, 1.5),
        (Measure.LDTA, None, 89.0, 1.5),
    ]


def test_angulation_beyond_the_limit_at_the_end_is_pointed_out(tibia, profile, visit):
    limit = profile.drift_limit_deg
    found = bone_outcome(tibia, (visit(56, mm=35.0, varus=-(limit + 1), procurvatum=limit - 1),), profile)
    (said,) = [f for f in found.findings if f.id == "outcome-angulated"]
    assert "valgus on the frontal film" in said.words
    straight = bone_outcome(tibia, (visit(56, mm=35.0, varus=limit, procurvatum=0.0),), profile)
    assert "outcome-angulated" not in [f.id for f in straight.findings]
