"""Accepting a plan: every `stop` resolved, or overruled with a reason that is kept."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from limbwright.finding import Finding, Severity
from limbwright.interop.plain import finding_plain
from limbwright.web.bench import Bench
from limbwright.web.casework import ACCEPTANCE, alterations_in, headers_of, save, stored_case
from limbwright.web.failure import Failure, said
from limbwright.web.identity import Signer
from limbwright.web.moment import now
from limbwright.web.wire import Accept, Override
from limbwright.web.work.answer import all_findings
from limbwright.web.work.state import planned_state

router = APIRouter(prefix="/api/cases/{case_id}", tags=["plan"])


@router.post("/accept")
def accept(bench: Bench, who: Signer, case_id: str, body: Accept) -> Response:
    """Accept the plan of a version: it is computed here again and kept in the case."""
    case, version = stored_case(bench, case_id, body.base_version)
    beside = bench.store.cases.beside(case_id, version)
    state = planned_state(case, alterations_in(beside), bench.practice.both(), headers_of(bench, case))
    findings = all_findings(state)
    if state.planned is None or state.planned.plan is None:
        absent = state.planned_absent
        why = said(absent) if absent is not None else {"found": "no plan could be made.", "next": ""}
        raise Failure(
            409,
            "stops-open",
            why["found"],
            where=f"case {case_id}",
            next_step=why["next"] or "Resolve what stops it.",
            extra={"stops": [finding_plain(f) for f in findings if f.severity is Severity.STOP]},
        )
    left = _left_open(findings, body.overrides)
    if left:
        raise Failure(
            409,
            "stops-open",
            f"{len(left)} finding(s) stop this plan: {left[0].words}",
            where=f"case {case_id}",
            next_step="Resolve each of them, or overrule it with a reason of ten letters or more.",
            extra={"stops": [finding_plain(f) for f in left]},
        )
    plan = replace(state.planned.plan, findings=findings)
    acceptance = {
        "by": who.name,
        "at": now().isoformat(),
        "of_version": version,
        "profile_version": state.practice.profile_version,
        "catalogue_version": state.practice.catalogue_version,
        "overrides": _kept(findings, body.overrides),
    }
    number = save(
        bench,
        replace(case, plan=plan),
        base=version,
        who=who.name,
        why=body.why or "plan accepted",
        beside={**beside, ACCEPTANCE: acceptance},
    )
    return JSONResponse({"id": case_id, "version": number, "acceptance": acceptance})


def _left_open(findings: tuple[Finding, ...], overrides: tuple[Override, ...]) -> list[Finding]:
    overruled = {(o.finding, o.words) for o in overrides if len(o.reason.strip()) >= 10}
    return [f for f in findings if f.severity is Severity.STOP and (f.id, f.words) not in overruled]


def _kept(findings: tuple[Finding, ...], overrides: tuple[Override, ...]) -> list[dict[str, Any]]:
    """Only overrides of findings that are there; nobody signs for what was not said."""
    stops = {(f.id, f.words) for f in findings if f.severity is Severity.STOP}
    return [
        {"finding": o.finding, "words": o.words, "reason": o.reason.strip()}
        for o in overrides
        if (o.finding, o.words) in stops
    ]
