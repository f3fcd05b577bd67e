"""Other plans beside the plan in force, each computed whole, and what is worth measuring again."""

import threading
from typing import Any

from limbwright.case.candidates import (
    CaseCandidate,
    candidate_planned,
    case_candidates,
    forecast_uncertainty,
)
from limbwright.case.forecast import case_forecasts
from limbwright.case.planned import PlannedCase
from limbwright.finding import Severity
from limbwright.interop.plain_candidates import candidates_plain, uncertainty_plain
from limbwright.limb.landmark import Landmark, plain_words
from limbwright.limb.reading import Measure
from limbwright.plan.stage import StageName
from limbwright.plan.uncertainty.values import PlanUncertainty
from limbwright.web.work.moved import At, drawings_at
from limbwright.web.work.quick import short_plain
from limbwright.web.work.state import WorkState

KEPT = "candidates"
SHOWN = (Measure.MAD, Measure.MLDFA, Measure.MPTA, Measure.LDTA, Measure.LEG_LENGTH)
MOST_AGAIN = 6
# One search at a time: each uses what the machine has.
_ONE_AT_A_TIME = threading.Lock()


def candidates_answer(state: WorkState) -> dict[str, Any]:
    """The plan in force, at most six others, and what is worth measuring again; searched once for a state."""
    with _ONE_AT_A_TIME:
        kept: dict[str, Any] | None = state.cache.get(KEPT)
        if kept is None:
            kept = state.cache[KEPT] = _computed(state)
    return kept


def _computed(state: WorkState) -> dict[str, Any]:
    planned, practice = state.planned, state.practice
    if planned is None or planned.plan is None:
        return {"how": "search", "candidates": [], "measure_again": [], "uncertainty": None}
    found = case_candidates(state.case, planned, practice.profile, practice.catalogue)
    told = candidates_plain(found, state.case, planned, practice.profile, practice.catalogue)
    if found is not None:
        for plain, candidate in zip(told["candidates"], (found.reference, *found.candidates), strict=True):
            plain["inside_tolerance"] = plain.pop("probability_inside_tolerance")
            plain.update(_shown(state, planned, candidate, in_force=candidate is found.reference))
    sure = _uncertainty(state, planned)
    return {
        "how": "search",
        **told,
        "measure_again": [] if sure is None else _again(sure),
        "uncertainty": None if sure is None else uncertainty_plain(sure),
    }


def _shown(
    state: WorkState, planned: PlannedCase, candidate: CaseCandidate, *, in_force: bool
) -> dict[str, Any]:
    """A candidate at full length: its drawing, how the leg ends, and how many findings it has."""
    whole = planned if in_force else candidate_planned(state.case, planned, candidate, state.practice.profile)
    end: list[dict[str, Any]] = []
    drawing: dict[str, Any] | None = None
    if whole.plan is not None:
        drawing = drawings_at(whole.leg, whole.plan, At(stage=StageName.FULL_LENGTH))
    if whole.outlook is not None:
        readings = whole.outlook.stage(StageName.FULL_LENGTH).frontal_readings
        end = [short_plain(r) for measure in SHOWN if (r := readings.get(measure)) is not None]
    return {
        "end": end,
        "findings": {s.value: sum(f.severity is s for f in whole.findings) for s in Severity},
        "drawing": drawing,
    }


def _uncertainty(state: WorkState, planned: PlannedCase) -> PlanUncertainty | None:
    """How sure the end of the plan in force is; None without a plan."""
    profile = state.practice.profile
    return forecast_uncertainty(state.case, planned, case_forecasts(planned, profile), profile)


def _again(sure: PlanUncertainty) -> list[dict[str, Any]]:
    """Inputs that explain most of the spread of some result, each once, the largest share first."""
    matters = sorted((m for name in sure.results for m in sure.worth_measuring(name)), key=lambda m: -m.total)
    told: dict[str, dict[str, Any]] = {}
    for matter in matters:
        told.setdefault(
            matter.name,
            {
                "words": f"{matter.name}: {matter.result}",
                "name": matter.name,
                "result": matter.result,
                "source": matter.source.value,
                "landmark": _landmark(matter.name),
                "film": None,
                "share_percent": round(100 * matter.total, 1),
            },
        )
    return list(told.values())[:MOST_AGAIN]


def _landmark(name: str) -> str | None:
    """The landmark an input is named after, so that a page can go there."""
    longest = sorted(Landmark, key=lambda landmark: -len(landmark))
    return next((mark.value for mark in longest if name.startswith(plain_words(mark))), None)
