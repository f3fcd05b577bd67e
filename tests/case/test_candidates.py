"""Plans worth comparing with the plan of a demo case, how sure they are, and one of them carried out."""

from dataclasses import dataclass, replace

import pytest

from limbwright.case.candidate_changes import candidate_changes, candidate_goal
from limbwright.case.candidates import (
    CaseCandidates,
    Keep,
    candidate_planned,
    case_candidates,
    case_uncertainty,
    lengths_of_leg,
)
from limbwright.case.case import Case
from limbwright.case.forecast import case_ahead
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.mechanics import Plane
from limbwright.plan.forecast.forecast import Sampling
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.stage import StageName
from limbwright.plan.uncertainty.uncertainty import Draws
from limbwright.plan.uncertainty.values import LENGTH, drift_name
from limbwright.practice.profile import Profile

FEW = Draws(count=256)
CATALOGUE = shipped_catalogue()


@dataclass(frozen=True)
class Searched:
    case: Case
    planned: PlannedCase
    found: CaseCandidates


@pytest.fixture(scope="module")
def adult() -> Searched:
    case, _ = invented_case(DEMO_PATIENTS[0], pixel_mm=0.9)
    planned = planned_case(case, Profile(), CATALOGUE)
    found = case_candidates(case, planned, Profile(), CATALOGUE, draws_of=FEW)
    assert found is not None
    return Searched(case, planned, found)


def test_the_plan_in_force_stands_first_and_the_others_come_the_surest_first(adult: Searched) -> None:
    assert adult.planned.plan is not None
    (mine,) = adult.found.reference.leg.bones
    assert mine.plan == adult.planned.plan.bones[0]
    assert 1 <= len(adult.found.candidates) <= 6
    rest = [c.probability for c in adult.found.candidates]
    assert rest == sorted(rest, reverse=True)
    for candidate in (adult.found.reference, *adult.found.candidates):
        assert candidate.leg.parts.outside_percent == pytest.approx(100 * (1 - candidate.probability))
        assert candidate.least_sure is not None
        assert candidate.probability <= candidate.least_sure.probability


def test_the_drift_of_a_candidate_is_that_of_its_own_forecast(adult: Searched) -> None:
    candidate = adult.found.candidates[0]
    made = candidate_planned(adult.case, adult.planned, candidate, Profile())
    ahead = case_ahead(adult.case, made, Profile(), sampling=Sampling(count=0))
    (bone,) = candidate.leg.bones
    assert bone.drift is not None
    assert ahead.drifts[Bone.TIBIA].varus_deg == pytest.approx(bone.drift.varus_deg, abs=0.02)
    assert ahead.drifts[Bone.TIBIA].procurvatum_deg == pytest.approx(bone.drift.procurvatum_deg, abs=0.02)
    # The axis of the leg with the drift, measured by the outlook, is what the candidate says it is.
    assert ahead.outlook is not None
    mad = ahead.outlook.stage(StageName.FULL_LENGTH).value(Measure.MAD)
    assert mad is not None
    assert abs(mad - made.targets[Measure.MAD]) == pytest.approx(candidate.leg.parts.mad_off_mm, abs=0.1)


def test_a_candidate_becomes_a_plan_of_its_own(adult: Searched) -> None:
    for candidate in adult.found.candidates[:2]:
        made = candidate_planned(adult.case, adult.planned, candidate, Profile())
        assert made.plan is not None
        (bone,), (chosen,) = made.plan.bones, candidate.leg.bones
        assert (bone.nail, bone.path, bone.blocking_screws) == (
            chosen.plan.nail,
            chosen.plan.path,
            chosen.plan.blocking_screws,
        )
        assert bone.lengthening_mm == chosen.plan.lengthening_mm
        assert bone.fibula is not None
        assert made.steps
        assert made.prescriptions[0].target_mm == bone.lengthening_mm
        assert made.outlook != adult.planned.outlook
    # Nothing of the plan in force is left over among the findings.
    again = candidate_planned(adult.case, adult.planned, adult.found.reference, Profile())
    assert {(f.id, f.words) for f in again.findings} == {(f.id, f.words) for f in adult.planned.findings}


def test_the_planner_keeps_to_the_goal_of_a_candidate(adult: Searched) -> None:
    candidate = adult.found.candidates[0]
    goal = candidate_goal(adult.case, adult.planned, candidate)
    (choice,), (bone,) = goal.bones, candidate.leg.bones
    assert (choice.nail, choice.lengthening_mm) == (bone.plan.nail.name, bone.plan.lengthening_mm)
    planned = planned_case(replace(adult.case, goal=goal), Profile(), CATALOGUE)
    assert planned.plan is not None
    (made,) = planned.plan.bones
    assert made.nail.name == bone.plan.nail.name
    assert made.osteotomy.below_joint_mm == pytest.approx(bone.level_mm, abs=0.01)
    (change,) = candidate_changes(adult.case, adult.planned, candidate, Profile(), CATALOGUE)
    assert change.screws_away in (0, len(made.blocking_screws))
    if bone.line.words() != "best fit":
        assert change.ends


def test_the_goal_of_the_plan_in_force_gives_it_again(adult: Searched) -> None:
    goal = candidate_goal(adult.case, adult.planned, adult.found.reference)
    again = planned_case(replace(adult.case, goal=goal), Profile(), CATALOGUE)
    assert again.plan is not None
    assert adult.planned.plan is not None
    (mine,), (before,) = again.plan.bones, adult.planned.plan.bones
    assert mine.nail == before.nail
    assert mine.osteotomy.below_joint_mm == pytest.approx(before.osteotomy.below_joint_mm, abs=1e-6)
    assert [(s.fragment, s.side) for s in mine.blocking_screws] == [
        (s.fragment, s.side) for s in before.blocking_screws
    ]
    (change,) = candidate_changes(adult.case, adult.planned, adult.found.reference, Profile(), CATALOGUE)
    assert (change.ends, change.screws_away, change.screws) == ((), 0, ())


def test_what_the_goal_or_the_surgeon_fixes_is_kept(adult: Searched) -> None:
    fixed = replace(adult.case, goal=Goal(bones=(BoneChoice(bone=Bone.TIBIA, nail="T-10.7/275"),)))
    keep = {Bone.TIBIA: Keep(level=True, length=True, path=True, screws=True)}
    found = case_candidates(fixed, adult.planned, Profile(), CATALOGUE, keep=keep, draws_of=FEW)
    assert found is not None
    assert adult.planned.plan is not None
    mine = adult.planned.plan.bones[0]
    for candidate in found.candidates:
        (bone,) = candidate.leg.bones
        assert bone.plan.nail.name == "T-10.7/275"
        assert bone.level_mm == pytest.approx(mine.osteotomy.below_joint_mm)
        assert bone.plan.lengthening_mm == mine.lengthening_mm
        assert bone.line.words() == "best fit"


def test_without_a_plan_there_is_nothing_to_compare(adult: Searched) -> None:
    empty = replace(adult.planned, completed=(), proposals=(), plan=None, outlook=None, prescriptions=())
    assert case_candidates(adult.case, empty, Profile(), CATALOGUE) is None
    assert case_uncertainty(adult.case, empty, case_ahead(adult.case, empty, Profile()), Profile()) is None
    assert lengths_of_leg(adult.case, empty) is None


def test_how_sure_a_case_is_holds_length_axis_angles_and_drift(adult: Searched) -> None:
    ahead = case_ahead(adult.case, adult.planned, Profile(), sampling=Sampling(count=0))
    sure = case_uncertainty(adult.case, adult.planned, ahead, Profile(), draws_of=FEW)
    assert sure is not None
    names = {c.name for c in sure.criteria}
    assert names >= {"MAD", "MPTA", "LDTA", LENGTH, drift_name(Bone.TIBIA, Plane.FRONTAL)}
    lengths = lengths_of_leg(adult.case, adult.planned)
    assert lengths is not None
    assert sure.results[LENGTH].mean == pytest.approx(lengths.end_mm, abs=0.1)
    # What is read today is as unsure as the measurement says it is; the nail's gain is exact.
    difference = adult.planned.measured.difference
    assert difference is not None
    assert difference.total is not None
    assert sure.results[LENGTH].sd == pytest.approx(difference.total.sd, rel=0.05)
    assert sure.inside_all == pytest.approx(adult.found.reference.probability, abs=0.05)


def test_where_alignment_is_left_as_it_is_the_plan_is_held_against_its_own_geometry(adult: Searched) -> None:
    case = replace(adult.case, goal=Goal(correct_alignment=False))
    planned = planned_case(case, Profile(), CATALOGUE)
    found = case_candidates(case, planned, Profile(), CATALOGUE, draws_of=FEW)
    assert found is not None
    assert found.reference.probability > 0.05
    assert found.reference.leg.parts.mad_off_mm == 0.0
