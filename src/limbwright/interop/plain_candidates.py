"""Candidates of a case, and how sure a plan is, as plain JSON objects."""

from pydantic import TypeAdapter

from limbwright.case.candidate_changes import BoneChange, candidate_changes, candidate_goal
from limbwright.case.candidates import CaseCandidate, CaseCandidates
from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase
from limbwright.implant.catalogue import Catalogue
from limbwright.interop.plain import Plain, directed_plain, finding_plain
from limbwright.interop.plain_forecast import screw_plain
from limbwright.mechanics import Quantiles
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED
from limbwright.plan.goal import Goal
from limbwright.plan.search.candidate import NO_NUMBER_DEG, BoneCandidate, Parts
from limbwright.plan.uncertainty.values import Criterion, Matter, PlanUncertainty, told
from limbwright.practice.profile import Profile
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, directed

PLAN_IN_FORCE = "As planned"


def candidates_plain(
    found: CaseCandidates | None, case: Case, planned: PlannedCase, profile: Profile, catalogue: Catalogue
) -> Plain:
    """The plan in force and the candidates beside it, each with what turns the case into it.

    Parameters
    ----------
    found : CaseCandidates or None
        What `case_candidates` found; nothing without a plan that lengthens a bone.
    case, planned, profile, catalogue
        What it was asked with.

    Returns
    -------
    Plain
        Under `changes` of each: `goal`, which the planner keeps to, and `alterations` to lay over its plan in
        this order: ends of the nail's lines that lie elsewhere, blocking screws taken away and put in.
    """
    if found is None:
        none: list[Plain] = []
        return {
            "validation": NOT_VALIDATED,
            "considered": 0,
            "within_limits": 0,
            "worked_out_exactly": 0,
            "candidates": none,
        }

    def one(title: str, candidate: CaseCandidate) -> Plain:
        goal = candidate_goal(case, planned, candidate)
        changes = candidate_changes(case, planned, candidate, profile, catalogue)
        return {
            "title": title,
            "as_planned": candidate is found.reference,
            **_candidate(candidate),
            "changes": {
                "goal": TypeAdapter(Goal).dump_python(goal, mode="json", exclude_none=True),
                "alterations": [a for change in changes for a in _alterations(change)],
            },
        }

    return {
        "validation": NOT_VALIDATED,
        "considered": found.considered,
        "within_limits": found.feasible,
        "worked_out_exactly": found.evaluated,
        "candidates": [
            one(PLAN_IN_FORCE, found.reference),
            *(one(f"Candidate {i + 1}", c) for i, c in enumerate(found.candidates)),
        ],
    }


def _candidate(candidate: CaseCandidate) -> Plain:
    least = candidate.least_sure
    return {
        "words": candidate.leg.words,
        "buys": list(candidate.leg.buys),
        "costs": list(candidate.leg.costs),
        "probability_inside_tolerance": round(candidate.probability, 4),
        "least_sure": None if least is None else {"name": least.name, "probability": least.probability},
        "parts": parts_plain(candidate.leg.parts),
        "bones": [_bone(b) for b in candidate.leg.bones],
    }


def parts_plain(parts: Parts) -> Plain:
    """Parts of the objective, kept apart; what could not be told is null."""
    return {
        "end_off_deg": None if parts.end_off_deg >= NO_NUMBER_DEG else round(parts.end_off_deg, 3),
        "start_off_deg": round(parts.start_off_deg, 3),
        "mad_off_mm": round(parts.mad_off_mm, 2),
        "length_off_mm": round(parts.length_off_mm, 2),
        "overlap_short_of_comfort_mm": round(parts.overlap_short_mm, 2),
        "off_apex_and_good_bone_mm": round(parts.level_cost_mm, 2),
        "shift_of_bone_ends_mm": round(parts.shift_mm, 2),
        "contact_lost_percent": None
        if parts.contact_lost_percent is None
        else round(parts.contact_lost_percent, 1),
        "reamed_on_one_side_mm": round(parts.reamed_mm, 2),
        "blocking_screws": parts.screws,
    }


def _bone(bone: BoneCandidate) -> Plain:
    return {
        "bone": bone.bone.value,
        "nail": bone.plan.nail.name,
        "direction": bone.plan.direction.value,
        "osteotomy_below_joint_mm": round(bone.plan.osteotomy.below_joint_mm, 1),
        "lengthening_mm": bone.plan.lengthening_mm,
        "path": bone.line.words(),
        "blocking_screws": [screw_plain(s) for s in bone.plan.blocking_screws],
        **_drift(bone.drift),
        "overlap_at_full_length_mm": round(bone.overlap_mm, 1),
    }


def _drift(drift: Drift | None) -> Plain:
    if drift is None:
        return {"drift_frontal": None, "drift_sagittal": None}
    return {
        "drift_frontal": directed_plain(directed(drift.varus_deg, unit="deg", senses=VARUS_VALGUS)),
        "drift_sagittal": directed_plain(
            directed(drift.procurvatum_deg, unit="deg", senses=PROCURVATUM_RECURVATUM)
        ),
    }


def _alterations(change: BoneChange) -> list[Plain]:
    bone = change.bone.value
    moved = [
        {
            "kind": "path",
            "bone": bone,
            "fragment": end.fragment.value,
            "end": "upper" if end.upper else "lower",
            "projection": end.projection.value,
            "across_mm": round(end.across_mm, 3),
        }
        for end in change.ends
    ]
    away = [{"kind": "remove-blocking-screw", "bone": bone, "index": 0}] * change.screws_away
    put_in = [
        {
            "kind": "add-blocking-screw",
            "bone": bone,
            "fragment": screw.fragment.value,
            "side": screw.side.value,
            "from_osteotomy_mm": round(screw.from_osteotomy_mm, 3),
        }
        for screw in change.screws
    ]
    return [*moved, *away, *put_in]


def uncertainty_plain(sure: PlanUncertainty) -> Plain:
    """How sure the end of a plan is, and what is worth measuring again."""
    again = tuple(m for name in sure.results for m in sure.worth_measuring(name))
    return {
        "validation": NOT_VALIDATED,
        "draws": sure.draws,
        "seed": sure.seed,
        "probability_inside_all": round(sure.inside_all, 4),
        "criteria": [_criterion(c) for c in sure.criteria],
        "results": {name: _quantiles(name, q) for name, q in sure.results.items()},
        "worth_measuring_again": [_matter(m) for m in again],
        "matters": [_matter(m) for m in sure.matters],
        "findings": [finding_plain(f) for f in sure.findings],
    }


def _criterion(criterion: Criterion) -> Plain:
    return {
        "name": criterion.name,
        "target": directed_plain(told(criterion.name, criterion.target)),
        f"tolerance_{criterion.unit}": criterion.tolerance,
        "probability": round(criterion.probability, 4),
    }


def _quantiles(name: str, found: Quantiles) -> Plain:
    value = dict(zip(found.probability, found.value, strict=True))
    middle = told(name, value[0.5])
    return {
        "median": directed_plain(middle),
        f"sd_{middle.unit}": round(found.sd, 4),
        "five_percent_below": directed_plain(told(name, value[0.05])),
        "five_percent_above": directed_plain(told(name, value[0.95])),
        "without_number": round(found.without_number, 4),
    }


def _matter(matter: Matter) -> Plain:
    return {
        "result": matter.result,
        "name": matter.name,
        "source": matter.source.value,
        "first_order": round(matter.first_order, 3),
        "total": round(matter.total, 3),
    }
