"""What the working calls answer, as plain JSON; docs/server.md describes it."""

from typing import Any

from limbwright.case.checks import missing_landmarks
from limbwright.case.planned import PlannedCase
from limbwright.course.healing import expected_healing
from limbwright.course.prescription import Prescription
from limbwright.course.schedule import Day, film_days, last_distraction_day, schedule
from limbwright.error import LimbwrightError
from limbwright.finding import Finding, Severity, ordered, worst
from limbwright.implant.nail import Direction
from limbwright.interop.plain import finding_plain, measured_case_plain
from limbwright.interop.plain_plan import planned_case_plain, prescription_plain
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark, bone_of, plain_words, shown_in
from limbwright.limb.view import View
from limbwright.plan.decision import BonePlan
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.moved_pin import pin_stretch_mm
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.pin_room import pin_levels
from limbwright.plan.planner_finding import chosen_nail_unfit
from limbwright.plan.stage import StageName
from limbwright.web.failure import said
from limbwright.web.moment import ANY_DAY
from limbwright.web.work.apex_line import deformity_plain
from limbwright.web.work.drawn import film_maps, lines_plain
from limbwright.web.work.moved import At, drawings_at, verdict_of
from limbwright.web.work.state import WorkState

LANDMARKS = [
    {
        "landmark": landmark.value,
        "words": plain_words(landmark),
        "projections": [p.value for p in Projection if shown_in(landmark, p)],
        "bone": bone_of(landmark).value,
        "order": order,
    }
    for order, landmark in enumerate(Landmark)
]
"""Every landmark in anatomical order, with the films it is marked on."""


def measure_answer(state: WorkState, session: str) -> dict[str, Any]:
    """A measured case."""
    measured = state.measured
    legs = []
    if measured is not None:
        legs.append((measured.treated.views, True))
        if measured.other is not None:
            legs.append((measured.other.views, False))
    findings = all_findings(state)
    return {
        "session": session,
        "base": state.base,
        "side": state.case.side.value,
        "age_years": None if measured is None else round(measured.age_years, 3),
        "films": [film_maps(film, tuple(legs)) for film in state.case.films],
        "measured": None if measured is None else measured_case_plain(measured, measured.findings),
        "measured_absent": None if state.measured_absent is None else said(state.measured_absent),
        "deformities": []
        if measured is None
        else [deformity_plain(seen, _views(state), state.legs.get(state.case.side)) for seen in state.seen],
        "lines": {side.value: lines_plain(state.legs.get(side)) for side in Side},
        "missing": _missing(state),
        "landmarks": LANDMARKS,
        "findings": [finding_plain(f) for f in findings],
        "stopped": worst(findings) is Severity.STOP,
    }


def all_findings(state: WorkState) -> tuple[Finding, ...]:
    """Everything to weigh, worst first, the headers' contradictions and the altered lines included."""
    found = list(state.headers.findings)
    if state.planned is not None:
        found += state.planned.findings
        found += altered_findings(state)
    elif state.measured is not None:
        found += state.measured.findings
        found += [f for seen in state.seen for f in seen.findings()]
    return ordered(tuple({(f.id, f.words): f for f in found}.values()))


def altered_findings(state: WorkState) -> list[Finding]:
    """A nail that does not fit the surgeon's own line is said so."""
    if (
        state.planned is None
        or state.planned.plan is None
        or not (state.alterations and state.alterations.taken)
    ):
        return []
    touched = {a.bone for a in state.alterations.taken if a.kind == "path"}
    found = []
    for plan in state.planned.plan.bones:
        if plan.bone not in touched:
            continue
        proposal = next(p for p in state.planned.proposals if p.bone is plan.bone)
        verdict = verdict_of(state.planned.leg, plan, proposal, state.practice.profile)
        if verdict is not None and not verdict.fits:
            found.append(chosen_nail_unfit(verdict, state.practice.profile))
    return found


def _views(state: WorkState) -> dict[Projection, View]:
    if state.measured is None:
        return {}
    views = state.measured.treated.views
    found = {Projection.FRONTAL: views.frontal, Projection.SAGITTAL: views.sagittal}
    return {projection: view for projection, view in found.items() if view is not None}


def _missing(state: WorkState) -> list[dict[str, str]]:
    """Landmarks without which nothing can be measured."""
    found = []
    for problem in missing_landmarks(state.case.films, state.case.side):
        landmark = problem.path.rsplit(".", 1)[-1]
        if landmark not in set(Landmark):
            continue
        index = int(problem.path.split("[")[1].split("]")[0])
        found.append(
            {
                "film": state.case.films[index].name,
                "side": state.case.side.value,
                "landmark": landmark,
                "words": plain_words(Landmark(landmark)),
            }
        )
    return found


def plan_answer(state: WorkState, session: str) -> dict[str, Any]:
    """A measured and planned case."""
    answer = measure_answer(state, session)
    planned = state.planned
    alterations = state.alterations
    answer |= {
        "choice": None,
        "plan": None,
        "plan_absent": None if state.planned_absent is None else said(state.planned_absent),
        "outlook": None,
        "drawings": {},
        "course": [],
        "alterations": [a.model_dump(mode="json") for a in alterations.taken] if alterations else [],
        "alterations_refused": [
            {"change": a.model_dump(mode="json"), "error": said(error)} for a, error in alterations.refused
        ]
        if alterations
        else [],
    }
    if planned is None:
        return answer
    plain = planned_case_plain(planned, ())
    choice = planned.choice
    answer["choice"] = {
        "recommended": choice.recommended.name.value if choice.recommended else None,
        "reason": choice.reason,
        "runner_up": choice.runner_up.name.value if choice.runner_up else None,
        "runner_up_reason": choice.runner_up_reason,
        "strategies": plain["strategies"],
    }
    answer["outlook"] = plain["outlook"]
    if planned.plan is None:
        answer["proposals"] = plain["bones"]
        return answer
    answer["plan"] = {
        "side": planned.plan.side.value,
        "staging": planned.plan.staging.value if planned.plan.staging else None,
        "bones": [{**bone, "limits": _limits(state, Bone(bone["bone"]))} for bone in plain["bones"]],
        "steps": plain["steps"],
    }
    answer["drawings"] = {
        stage.value: drawings_at(planned.leg, planned.plan, At(stage=stage)) for stage in StageName
    }
    answer["course"] = [course_plain(state, p) for p in planned.prescriptions]
    return answer


def _limits(state: WorkState, bone: Bone) -> dict[str, Any]:
    """How far each decision of a bone may go."""
    planned = state.planned
    plan = (
        None
        if planned is None or planned.plan is None
        else next(b for b in planned.plan.bones if b.bone is bone)
    )
    if planned is None or plan is None:
        return {}
    limits = hardware_limits(
        bone=bone,
        length_mm=bone_line(planned.leg, bone).length_mm,
        hardware=state.case.examination.hardware,
        profile=state.practice.profile,
    )
    return {
        "osteotomy_below_joint_mm": [[round(i.from_mm, 2), round(i.to_mm, 2)] for i in limits.osteotomy],
        "lengthening_mm": [0.0, plan.nail.stroke_mm],
        "nails": [n.name for n in state.practice.catalogue.nails_for(bone, plan.direction)],
        "pins": _pin_limits(state, planned, plan),
    }


def _pin_limits(state: WorkState, planned: PlannedCase, plan: BonePlan) -> list[dict[str, Any]]:
    """The stretch of each pin between joint and osteotomy; hardware and nail path may narrow it."""
    profile = state.practice.profile
    levels = pin_levels(planned.leg, plan, state.case.examination, profile)
    return [
        {
            "index": index,
            "below_joint_mm": [[round(end, 2) for end in pin_stretch_mm(plan, pin, levels, profile)]],
        }
        for index, pin in enumerate(plan.pins)
    ]


def days_of(prescription: Prescription) -> tuple[Day, ...]:
    """The schedule by day numbers; its calendar days mean nothing before the operation is dated."""
    return schedule(prescription, ANY_DAY)


def course_plain(state: WorkState, prescription: Prescription) -> dict[str, Any]:
    """One bone's course from the operation to the healing band, in days after the operation."""
    days = days_of(prescription)
    stepping = [day.number for day in days if day.steps]
    last = last_distraction_day(days)
    plan = next(
        b
        for b in (state.planned.plan.bones if state.planned and state.planned.plan else ())
        if b.bone is prescription.bone
    )
    try:
        band = expected_healing(
            state.practice.profile,
            bone=prescription.bone,
            retrograde=plan.direction is Direction.RETROGRADE,
            age_years=state.measured.age_years if state.measured else 0.0,
            gained_mm=last.gained_mm,
            last_distraction_day=last.number,
        )
        healed = {
            "low": round(band.from_day),
            "typical": round(band.mean_day),
            "high": round(band.to_day),
        }
    except LimbwrightError:
        healed = None
    return {
        **prescription_plain(prescription),
        "first_step_day": min(stepping, default=None),
        "last_step_day": last.number,
        "film_days": [day.number for day in film_days(days)],
        "healed_days": healed,
    }
