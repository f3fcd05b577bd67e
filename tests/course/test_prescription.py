import pytest

from limbwright.course.prescription import Phase, PhaseKind, Prescription, default_prescription
from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

STEADY = Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=3)


def prescription(**changes):
    values = {
        "bone": Bone.TIBIA,
        "latency_days": 7,
        "phases": (STEADY,),
        "target_mm": 35.0,
        "film_interval_days": 14,
    }
    return Prescription(**values | changes)


def test_rate_is_steps_times_step_and_falls_in_reverse():
    assert STEADY.rate_mm_per_day == 0.75
    assert Phase(kind=PhaseKind.REVERSE, days=3, step_mm=0.25, steps_per_day=2).rate_mm_per_day == -0.5
    assert Phase(kind=PhaseKind.HOLD, days=7).rate_mm_per_day == 0


def test_a_phase_is_called_by_its_name_or_its_kind():
    assert STEADY.words == "steady"
    assert Phase(kind=PhaseKind.HOLD, days=7, name="wait for new bone").words == "wait for new bone"


@pytest.mark.parametrize(
    ("changes", "error", "message"),
    [
        ({"latency_days": -1}, OutOfRange, r"latency_days is -1 days, expected 0 to 60 days"),
        ({"latency_days": 61}, OutOfRange, r"latency_days is 61 days"),
        ({"target_mm": 0.0}, OutOfRange, r"target_mm is 0 mm, expected 0.1 to 150 mm"),
        ({"target_mm": -35.0}, OutOfRange, r"target_mm is -35 mm"),
        ({"target_mm": float("nan")}, OutOfRange, r"target_mm is nan mm"),
        ({"film_interval_days": 0}, OutOfRange, r"film_interval_days is 0 days"),
        ({"bone": Bone.FIBULA}, OutOfRange, r"fibula, expected femur or tibia.*prescribe for the tibia"),
        ({"phases": ()}, Missing, r"no phase that lengthens"),
        ({"phases": (Phase(kind=PhaseKind.HOLD, days=3),)}, Missing, r"no phase that lengthens"),
        ({"phases": (STEADY, STEADY)}, Contradiction, r"phase 1 of 2 has no end"),
    ],
)
def test_impossible_prescriptions_are_refused(changes, error, message):
    with pytest.raises(error, match=message):
        prescription(**changes)


@pytest.mark.parametrize(
    ("values", "error", "message"),
    [
        ({"kind": PhaseKind.STEADY, "step_mm": 0.25}, OutOfRange, r"steps_per_day is 0 steps"),
        ({"kind": PhaseKind.STEADY, "steps_per_day": 3}, OutOfRange, r"step_mm is 0 mm"),
        (
            {"kind": PhaseKind.STEADY, "steps_per_day": 3, "step_mm": -0.25},
            OutOfRange,
            r"step_mm is -0.25 mm, expected 0.001 to 2 mm",
        ),
        (
            {"kind": PhaseKind.STEADY, "steps_per_day": 3, "step_mm": 0.25, "days": 0},
            OutOfRange,
            r"days is 0",
        ),
        ({"kind": PhaseKind.HOLD, "steps_per_day": 3, "days": 3}, Contradiction, r"a hold phase with 3"),
        (
            {"kind": PhaseKind.CONSOLIDATION, "steps_per_day": 3, "days": 3},
            Contradiction,
            r"a consolidation phase with 3",
        ),
        ({"kind": PhaseKind.HOLD}, Missing, r"a hold phase without days"),
        (
            {"kind": PhaseKind.REVERSE, "steps_per_day": 3, "step_mm": 0.25},
            Missing,
            r"a reverse phase without",
        ),
    ],
)
def test_impossible_phases_are_refused(values, error, message):
    with pytest.raises(error, match=message):
        Phase(**values)


def test_defaults_follow_bone_and_age():
    profile = Profile()
    tibia = default_prescription(profile, bone=Bone.TIBIA, age_years=30, target_mm=35)
    assert tibia.latency_days == 7
    assert [(p.kind, p.days, p.step_mm, p.steps_per_day) for p in tibia.phases] == [
        (PhaseKind.FAST_START, 4, 0.25, 4),
        (PhaseKind.STEADY, None, 0.25, 3),
    ]
    assert tibia.film_interval_days == 14
    child = default_prescription(profile, bone=Bone.TIBIA, age_years=10, target_mm=35)
    assert child.latency_days == profile.latency_tibia_child_days
    femur = default_prescription(profile, bone=Bone.FEMUR, age_years=30, target_mm=35)
    assert femur.latency_days == profile.latency_femur_adult_days
    # The femur's fast start has the rhythm of its steady phase, so it is one phase.
    assert [(p.kind, p.steps_per_day) for p in femur.phases] == [(PhaseKind.STEADY, 4)]


def test_the_surgeons_own_numbers_are_used():
    profile = Profile(
        latency_tibia_adult_days=9.5,
        fast_start_days_tibia=0,
        distraction_step_mm=0.33,
        film_interval_lengthening_days=7,
    )
    own = default_prescription(profile, bone=Bone.TIBIA, age_years=40, target_mm=20)
    assert own.latency_days == 10
    assert [(p.kind, p.step_mm, p.steps_per_day) for p in own.phases] == [(PhaseKind.STEADY, 0.33, 3)]
    assert own.film_interval_days == 7
