"""The time axis: where every fragment is on any day, as maps the page cuts and moves the film with."""

from collections.abc import Mapping, Sequence
from typing import Any

from limbwright.error import Missing, OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import Plan
from limbwright.plan.leg import LegModel
from limbwright.plan.stage import StageName
from limbwright.web.work.answer import course_plain, days_of
from limbwright.web.work.change import LongBone, Moment
from limbwright.web.work.drift import drift_if_known
from limbwright.web.work.moved import At, cut_lines, drawings_at, fragments_of, motions_at
from limbwright.web.work.state import WorkState

NO_DRIFT = "The drift of this plan has not been worked out yet; ask /api/work/drift for it."


def _planned(state: WorkState) -> tuple[LegModel, Plan]:
    if state.planned is None or state.planned.plan is None:
        raise Missing(
            "there is no plan, so there is no time axis.",
            where="time strip",
            next_step="Post the case to /api/work/plan and resolve what stops the plan.",
        )
    return state.planned.leg, state.planned.plan


def days_answer(state: WorkState, moments: Sequence[Moment] | None) -> dict[str, Any]:
    """Motions of the fragments at some moments, or on every day of the course."""
    leg, plan = _planned(state)
    axis = _axis(state)
    if moments is None:
        wanted = [Moment(stage="as it stands"), Moment(stage="corrected")]
        wanted += [Moment(day=day) for day in range(axis["last_day"] + 1)]
    else:
        wanted = list(moments)
    gained = _gained_by_day(state)
    drift = drift_if_known(state)
    return {
        "axis": axis,
        "cuts": cut_lines(plan),
        "fragments": fragments_of(plan),
        "moments": [_moment(leg, plan, moment, gained) for moment in wanted],
        "drift": drift,
        "drift_absent": NO_DRIFT if drift is None else None,
    }


def draw_answer(state: WorkState, moments: Sequence[Moment]) -> dict[str, Any]:
    """Drawings at some moments."""
    leg, plan = _planned(state)
    gained = _gained_by_day(state)
    return {"drawings": [drawings_at(leg, plan, _at(plan, moment, gained)) for moment in moments]}


def _gained_by_day(state: WorkState) -> dict[Bone, list[float]]:
    """Length gained by the end of each day, bone by bone. [mm]"""
    if state.planned is None:
        return {}
    return {p.bone: [day.gained_mm for day in days_of(p)] for p in state.planned.prescriptions}


def _at(plan: Plan, moment: Moment, gained: dict[Bone, list[float]]) -> At:
    given = [moment.stage is not None, moment.day is not None, moment.gained_mm is not None]
    if sum(given) != 1:
        raise OutOfRange(
            f"{sum(given)} of stage, day and gained_mm are given, expected exactly one.",
            where="moment",
            next_step="Name a stage, or a day, or the length gained in each bone.",
        )
    if moment.stage is not None:
        return At(stage=StageName(moment.stage))
    if moment.gained_mm is not None:
        asked = {bone.bone: _asked_mm(moment.gained_mm, bone.bone) for bone in plan.bones}
        for bone in plan.bones:
            most = bone.nail.stroke_mm
            if asked[bone.bone] > most + 1e-9:
                raise OutOfRange(
                    f"{asked[bone.bone]:g} mm gained in the {bone.bone}, but the nail gives {most:g} mm.",
                    where="moment",
                    next_step="Ask for less, or choose a nail with a longer stroke.",
                )
        return At(stage=StageName.FULL_LENGTH, gained_mm=asked)
    day = moment.day or 0
    return At(
        stage=StageName.FULL_LENGTH,
        gained_mm={bone: lengths[min(day, len(lengths) - 1)] for bone, lengths in gained.items()},
    )


def _asked_mm(gained_mm: Mapping[LongBone, float], bone: Bone) -> float:
    return next((mm for asked, mm in gained_mm.items() if asked is bone), 0.0)


def _moment(leg: LegModel, plan: Plan, moment: Moment, gained: dict[Bone, list[float]]) -> dict[str, Any]:
    at = _at(plan, moment, gained)
    lengths = {
        bone.bone.value: 0.0
        if at.stage is not StageName.FULL_LENGTH
        else bone.lengthening_mm
        if at.gained_mm is None
        else at.gained_mm.get(bone.bone, 0.0)
        for bone in plan.bones
    }
    return {
        "stage": at.stage.value if moment.day is None else "lengthening",
        "day": moment.day,
        "gained_mm": {bone: round(mm, 3) for bone, mm in lengths.items()},
        "total_gained_mm": round(sum(lengths.values()), 3),
        **motions_at(leg, plan, at),
    }


def _axis(state: WorkState) -> dict[str, Any]:
    """Days and events of the course, counted from the operation."""
    events: list[dict[str, Any]] = [{"day": 0, "what": "operation"}]
    last = 0
    courses = [course_plain(state, p) for p in (state.planned.prescriptions if state.planned else ())]
    for course in courses:
        bone = course["bone"]
        if course["first_step_day"] is not None:
            events.append({"day": course["first_step_day"], "what": f"first step, {bone}"})
        events.append({"day": course["last_step_day"], "what": f"last step, {bone}"})
        events += [{"day": day, "what": f"film, {bone}"} for day in course["film_days"]]
        last = max(last, course["last_step_day"], *course["film_days"])
        if course["healed_days"] is not None:
            events.append({"day": course["healed_days"]["typical"], "what": f"healed, {bone}, typical"})
            last = max(last, course["healed_days"]["typical"])
    return {"first_day": 0, "last_day": last, "events": sorted(events, key=lambda e: e["day"])}
