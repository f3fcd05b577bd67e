"""Other plans beside the proposed one, each computed whole, with what it buys and what it costs."""

from dataclasses import replace
from typing import Any

from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.error import LimbwrightError
from limbwright.finding import Severity
from limbwright.limb.reading import Measure
from limbwright.plan.decision import Plan
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.stage import StageName
from limbwright.web.work.moved import At, drawings_at
from limbwright.web.work.quick import short_plain
from limbwright.web.work.state import WorkState

MOST = 6
SHOWN = (Measure.MAD, Measure.MLDFA, Measure.MPTA, Measure.LDTA, Measure.LEG_LENGTH)
APART_MM = 14.0  # levels nearer than this are the same cut to a surgeon
WORTH_MM = 1.0


def candidates_answer(state: WorkState) -> dict[str, Any]:
    """The proposed plan and up to five others: other strategy, other level, other nail."""
    if state.planned is None or state.planned.plan is None:
        return {"candidates": []}
    proposed, own = state.planned, state.planned.plan
    found = [_candidate("As proposed", state.case.goal or Goal(), proposed, None)]
    for title, goal in _variants(state.case, proposed):
        if len(found) >= MOST:
            break
        try:
            other = planned_case(
                replace(state.case, goal=goal),
                state.practice.profile,
                state.practice.catalogue,
                stated=state.headers.stated,
            )
        except LimbwrightError:
            continue
        if other.plan is not None and not _same(other.plan, own):
            found.append(_candidate(title, goal, other, proposed))
    return {"candidates": found}


def _variants(case: Case, planned: PlannedCase) -> list[tuple[str, Goal]]:
    goal = case.goal or Goal()
    plan = planned.plan
    if plan is None:
        return []
    chosen = tuple(
        next((c for c in goal.bones if c.bone is b.bone), BoneChoice(bone=b.bone)) for b in plan.bones
    )
    variants: list[tuple[str, Goal]] = []
    for index, bone in enumerate(plan.bones):
        proposal = next(p for p in planned.proposals if p.bone is bone.bone)

        def with_choice(choice: BoneChoice, at: int = index) -> Goal:
            return replace(goal, bones=(*chosen[:at], choice, *chosen[at + 1 :]))

        here = chosen[index]
        for other in proposal.runners_up[:1]:
            longer = other.nail.length_mm > bone.nail.length_mm
            variants.append(
                (
                    f"{'Longer' if longer else 'Other'} nail in the {bone.bone}",
                    with_choice(replace(here, nail=other.nail.name)),
                )
            )
        cut_mm = bone.osteotomy.below_joint_mm
        above = [s for s in proposal.levels if s.below_joint_mm < cut_mm - APART_MM]
        below = [s for s in proposal.levels if s.below_joint_mm > cut_mm + APART_MM]
        for way, levels in (("More proximal", above), ("More distal", below)):
            if levels:
                level = levels[0]
                variants.append(
                    (
                        f"{way} cut of the {bone.bone}, {level.quality} bone",
                        with_choice(replace(here, osteotomy_below_joint_mm=level.below_joint_mm)),
                    )
                )
    runner = planned.choice.runner_up
    if runner is not None:
        bones = tuple(
            BoneChoice(bone=bone, lengthening_mm=float(round(runner.lengthening_mm(bone))))
            for bone in runner.bones()
        )
        variants.insert(
            0, (runner.name.value.capitalize(), replace(goal, bones=bones, staging=runner.staging))
        )
    return variants


def _same(a: Plan, b: Plan) -> bool:
    def told(plan: Plan) -> list[tuple[object, ...]]:
        return [
            (x.bone, x.nail.name, x.direction, round(x.osteotomy.below_joint_mm), round(x.lengthening_mm))
            for x in plan.bones
        ]

    return told(a) == told(b)


def _candidate(title: str, goal: Goal, planned: PlannedCase, proposed: PlannedCase | None) -> dict[str, Any]:
    plan, outlook = planned.plan, planned.outlook
    if plan is None or outlook is None:
        raise TypeError("a candidate has a plan")
    stage = outlook.stage(StageName.FULL_LENGTH)
    readings = [stage.frontal_readings.get(measure) for measure in SHOWN]
    buys, costs = ((), ()) if proposed is None else _against(planned, proposed)
    count = {s.value: sum(f.severity is s for f in planned.findings) for s in Severity}
    return {
        "title": title,
        "changes": {"goal": _goal_plain(goal)},
        "buys": list(buys),
        "costs": list(costs),
        "bones": [
            {
                "bone": b.bone.value,
                "osteotomy_below_joint_mm": round(b.osteotomy.below_joint_mm, 1),
                "nail": b.nail.name,
                "lengthening_mm": b.lengthening_mm,
                "blocking_screws": len(b.blocking_screws),
            }
            for b in plan.bones
        ],
        "end": [short_plain(r) for r in readings if r is not None],
        "findings": count,
        "drawing": drawings_at(planned.leg, plan, At(stage=StageName.FULL_LENGTH)),
    }


def _goal_plain(goal: Goal) -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(Goal).dump_python(goal, mode="json", exclude_none=True)


def _against(planned: PlannedCase, proposed: PlannedCase) -> tuple[list[str], list[str]]:
    """What a candidate has more or less of than the proposed plan, in numbers."""
    buys: list[str] = []
    costs: list[str] = []

    def weigh(
        name: str, mine: float | None, theirs: float | None, *, unit: str, more_is_better: bool
    ) -> None:
        if mine is None or theirs is None or abs(mine - theirs) < WORTH_MM:
            return
        better = (mine > theirs) is more_is_better
        (buys if better else costs).append(f"{name} {mine:.0f}{unit} instead of {theirs:.0f}{unit}")

    for number, (label, more) in {
        "overlap at full length": ("thick part in the moving fragment", True),
        "tip to joint": ("nail tip to joint", True),
        "cortex left": ("cortex left", True),
    }.items():
        weigh(label, _least(planned, number), _least(proposed, number), unit=" mm", more_is_better=more)
    weigh("shift at the cut", _shift(planned), _shift(proposed), unit=" mm", more_is_better=False)
    days = [_healed_day(p) for p in (planned, proposed)]
    weigh("healed about day", days[0], days[1], unit="", more_is_better=False)
    screws = [sum(len(b.blocking_screws) for b in p.plan.bones) if p.plan else 0 for p in (planned, proposed)]
    if screws[0] != screws[1]:
        side = buys if screws[0] < screws[1] else costs
        side.append(f"{screws[0]} instead of {screws[1]} blocking screws")
    for severity in (Severity.STOP, Severity.CAUTION):
        mine, theirs = (sum(f.severity is severity for f in p.findings) for p in (planned, proposed))
        if mine != theirs:
            (buys if mine < theirs else costs).append(f"{mine} instead of {theirs} {severity} findings")
    return buys, costs


def _healed_day(planned: PlannedCase) -> float | None:
    strategy = planned.choice.recommended
    return None if strategy is None else float(round(strategy.healed_typical_day))


def _least(planned: PlannedCase, number: str) -> float | None:
    found = [
        n.value for p in planned.proposals if p.nail is not None for n in p.nail.numbers if n.name == number
    ]
    return min(found, default=None)


def _shift(planned: PlannedCase) -> float | None:
    return max((f.shift_mm for f in planned.outlook.cut_faces), default=None) if planned.outlook else None
