"""What was really done in theatre, beside what was planned."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse
from pydantic import TypeAdapter

from limbwright.case.case import Case
from limbwright.course.course import Course, Treatment
from limbwright.course.operation import DoneBone, OperationRecord
from limbwright.course.prescription import default_prescription
from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import BonePlan
from limbwright.web.bench import Bench, Workbench
from limbwright.web.casework import save, stored_case
from limbwright.web.failure import Failure
from limbwright.web.identity import Planner, Reader
from limbwright.web.wire import SaveOperation

router = APIRouter(prefix="/api/cases/{case_id}/operation", tags=["operation"])


@router.get("")
def get(bench: Bench, who: Reader, case_id: str) -> Response:
    """The record and how it differs from the plan."""
    return JSONResponse(operation_plain(bench, case_id))


@router.put("")
def put(bench: Bench, who: Planner, case_id: str, body: SaveOperation) -> Response:
    """Keep the record; a day of operation starts the course by the practice's prescription."""
    case, version = stored_case(bench, case_id, body.base_version)
    if case.plan is None:
        raise Failure(
            409,
            "no-plan",
            "no plan has been accepted.",
            where=f"case {case_id}",
            next_step="Accept a plan before recording its operation.",
        )
    changed = _with_course(bench, replace(case, operation=body.record), body.record)
    save(bench, changed, base=version, who=who.name, why=body.why or "operation recorded")
    return JSONResponse(operation_plain(bench, case_id))


def operation_plain(bench: Workbench, case_id: str) -> dict[str, Any]:
    """The record of a case with the version it stands in; None before anything was recorded."""
    case, version = stored_case(bench, case_id)
    record = case.operation
    return {
        "version": version,
        "record": None if record is None else TypeAdapter(OperationRecord).dump_python(record, mode="json"),
        "steps": list(case.plan.steps) if case.plan else [],
        "against_plan": [] if record is None or case.plan is None else against_plan(case, record),
    }


def against_plan(case: Case, record: OperationRecord) -> list[dict[str, Any]]:
    """What was done beside what was planned, number by number; what was not recorded is left out."""
    rows: list[dict[str, Any]] = []
    for done in record.bones:
        planned = next((b for b in case.plan.bones if b.bone is done.bone), None) if case.plan else None
        if planned is not None:
            rows += _bone_rows(planned, done)
    return rows


def _bone_rows(planned: BonePlan, done: DoneBone) -> list[dict[str, Any]]:
    rows = []
    for what, plan_mm, done_mm, longer in (
        (
            "osteotomy",
            planned.osteotomy.below_joint_mm,
            done.osteotomy_below_joint_mm,
            ("more distal", "more proximal"),
        ),
        ("lengthening", planned.lengthening_mm, done.lengthening_mm, ("more", "less")),
        (
            "fibular osteotomy",
            planned.fibula.osteotomy_above_ankle_mm if planned.fibula else None,
            done.fibula_osteotomy_above_ankle_mm,
            ("more proximal", "more distal"),
        ),
    ):
        if done_mm is not None:
            rows.append(_row(f"{what}, {done.bone}", plan_mm, done_mm, longer))
    if done.nail is not None:
        rows.append(
            {
                "what": f"nail, {done.bone}",
                "planned": planned.nail.name,
                "done": done.nail,
                "unit": "",
                "difference": "as planned" if done.nail == planned.nail.name else "another nail",
            }
        )
    if done.blocking_screws is not None:
        rows += _screw_rows(planned, done)
    return rows


def _screw_rows(planned: BonePlan, done: DoneBone) -> list[dict[str, Any]]:
    """Screws of one fragment and side are compared in the order they are listed."""
    rows = []
    left = list(done.blocking_screws or [])
    for screw in planned.blocking_screws:
        what = f"blocking screw, {screw.fragment} fragment, {screw.side}, {planned.bone}"
        match = next((s for s in left if (s.fragment, s.side) == (screw.fragment, screw.side)), None)
        if match is None:
            rows.append(
                {
                    "what": what,
                    "planned": round(screw.from_osteotomy_mm, 1),
                    "done": None,
                    "unit": "mm",
                    "difference": "left out",
                }
            )
            continue
        left.remove(match)
        rows.append(_row(what, screw.from_osteotomy_mm, match.from_osteotomy_mm, ("farther", "nearer")))
    rows += [
        {
            "what": f"blocking screw, {s.fragment} fragment, {s.side}, {planned.bone}",
            "planned": None,
            "done": s.from_osteotomy_mm,
            "unit": "mm",
            "difference": "not planned",
        }
        for s in left
    ]
    return rows


def _row(what: str, planned_mm: float | None, done_mm: float, words: tuple[str, str]) -> dict[str, Any]:
    if planned_mm is None:
        difference = "not planned"
    elif abs(done_mm - planned_mm) < 0.5:
        difference = "as planned"
    else:
        word = words[0] if done_mm > planned_mm else words[1]
        difference = f"{abs(done_mm - planned_mm):.0f} mm {word}"
    return {
        "what": what,
        "planned": None if planned_mm is None else round(planned_mm, 1),
        "done": round(done_mm, 1),
        "unit": "mm",
        "difference": difference,
    }


def _with_course(bench: Workbench, case: Case, record: OperationRecord) -> Case:
    """The case with its course begun on the day of the operation; a course that has visits is left alone."""
    if record.operated_on is None or case.plan is None or (case.course is not None and case.course.visits):
        return case
    _, profile = bench.practice.profile()
    lengths: dict[Bone, float | None] = {done.bone: done.lengthening_mm for done in record.bones}
    treatments = []
    for bone in case.plan.bones:
        target = lengths.get(bone.bone)
        target = bone.lengthening_mm if target is None else target
        if target <= 0:
            continue
        prescription = default_prescription(
            profile, bone=bone.bone, age_years=case.age_years(record.operated_on), target_mm=target
        )
        treatments.append(Treatment(operated_on=record.operated_on, prescription=prescription))
    return replace(case, course=Course(treatments=tuple(treatments))) if treatments else case
