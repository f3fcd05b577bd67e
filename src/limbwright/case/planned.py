"""A case planned: from measured legs to one operation plan with everything that follows from it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from limbwright.case.case import Case
from limbwright.case.measured import MeasuredCase, measured_case
from limbwright.case.situation import BoneDeformity, deformities, situation
from limbwright.course.prescription import Prescription, default_prescription
from limbwright.film.leg import Stated
from limbwright.finding import Finding, Severity, ordered, worst
from limbwright.implant.catalogue import Catalogue
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.choice_of_bone import ChoiceOfBone, choose_bones
from limbwright.plan.circumstances import JointState
from limbwright.plan.complete import CompletedBone, completed
from limbwright.plan.decision import BonePlan, Plan
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.growth_outlook import NOT_SHORT, GrowthOutlook, growth_outlook
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.outlook import Outlook, outlook
from limbwright.plan.planner import BoneTask, PlannedBone, plan_bone
from limbwright.plan.situation import LegSituation
from limbwright.plan.stage import StageName
from limbwright.plan.steps import Step, checklist, operation_steps
from limbwright.plan.strategies import Question, question_ways
from limbwright.plan.strategy import BoneShare, Strategy
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value

HALF_MM = 0.5  # lengthening is planned in whole millimetres


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedCase(Value):
    """Everything that was worked out about one leg, from films to operation plan."""

    measured: MeasuredCase
    """Both legs as they stand."""
    deformities: tuple[BoneDeformity, ...]
    """Apexes of femur and tibia in both planes."""
    situation: LegSituation
    """Where shortening and deformity are."""
    choice: ChoiceOfBone
    """Strategies side by side, the recommended one and why."""
    growth: GrowthOutlook
    """What growth still to come will do to the discrepancy, and the option of staging."""
    leg: LegModel
    """The treated leg in three dimensions, as it stands."""
    targets: Mapping[Measure, float]
    """Angles and deviation wanted at the end [deg, mm]."""
    proposals: tuple[PlannedBone, ...]
    """What the planner weighed for each bone, in the order of treatment."""
    completed: tuple[CompletedBone, ...]
    """Each bone with fibula, pins, approach, soft tissue, weight, distances; empty without a plan."""
    plan: Plan | None
    """All decisions; None when something stops it, named among the findings."""
    outlook: Outlook | None
    """The leg corrected and at full length, measured like the films; None without a plan."""
    steps: tuple[Step, ...]
    """Order of steps in theatre; empty without a plan."""
    prescriptions: tuple[Prescription, ...]
    """Latency, rate and rhythm of each lengthened bone; empty without a plan."""
    findings: tuple[Finding, ...]
    """Everything to weigh, worst first."""

    def stopped(self) -> bool:
        """Whether a `stop` has to be resolved before this plan is acted on."""
        return worst(self.findings) is Severity.STOP


def planned_case(
    case: Case, profile: Profile, catalogue: Catalogue, *, stated: Mapping[str, Stated] | None = None
) -> PlannedCase:
    """Plan one leg: measure, find the apexes, choose the bone, place osteotomy, nail and screws, look ahead.

    Parameters
    ----------
    case : Case
        The case; its goal may fix any decision, and an absent goal means equal legs, straight.
    profile : Profile
        The surgeon's rules.
    catalogue : Catalogue
        The surgeon's nails and screws.
    stated : mapping, optional
        What the films' headers say about side and projection, by film name.

    Raises
    ------
    LimbwrightError
        When a plan would be a guess: no film of the leg, no scale, nothing to correct or lengthen.
    """
    goal = case.goal or Goal()
    measured = measured_case(case, profile, stated=stated)
    seen = deformities(measured, goal.targets_deg)
    where = situation(case, measured, seen, profile)
    question = Question(
        situation=where,
        goal=goal,
        examination=case.examination,
        age_years=measured.age_years,
        sex=case.patient.sex,
        skeletal_age_years=case.patient.skeletal_age_years,
    )
    choice = choose_bones(question, profile)
    growth = _growth(question, measured, profile)
    leg = leg_model(measured.treated.views.need(Projection.FRONTAL), measured.treated.views.sagittal)
    targets = {**{m: t.value for m, t in measured.templates.items()}, **goal.targets_deg}
    found = PlannedCase(
        measured=measured,
        deformities=seen,
        situation=where,
        choice=choice,
        growth=growth,
        leg=leg,
        targets=targets,
        proposals=(),
        completed=(),
        plan=None,
        outlook=None,
        steps=(),
        prescriptions=(),
        findings=(),
    )
    found = replace(found, findings=_weighed_first(found))
    if choice.recommended is None:
        return found
    shares = _first_shares(choice.recommended)
    lengths_mm = {share.bone: share.lengthening_mm for share in shares}
    carried = _attempt(case, found, lengths_mm, goal=goal, profile=profile, catalogue=catalogue)
    # Straightening a bone lengthens the leg, which only the finished plan shows: lengthen by that much less.
    left_mm = _left_over_mm(carried, goal)
    main = _free_bone(shares, goal)
    if left_mm is None or main is None or abs(left_mm) < HALF_MM or _in_stages(choice.recommended):
        return carried
    lengths_mm[main] = max(0.0, lengths_mm[main] + left_mm)
    return _attempt(case, found, lengths_mm, goal=goal, profile=profile, catalogue=catalogue)


def _weighed_first(found: PlannedCase) -> tuple[Finding, ...]:
    """What is to be weighed before any bone is planned."""
    return _once(
        [
            *found.measured.findings,
            *(f for s in found.deformities for f in s.findings()),
            *found.choice.findings,
            *found.growth.findings,
        ]
    )


def wanted_at_end(case: Case, planned: PlannedCase) -> Mapping[Measure, float]:
    """Readings wanted at the end: all targets; only those the goal names when alignment is to be left."""
    goal = case.goal or Goal()
    return planned.targets if goal.correct_alignment else goal.targets_deg


def carried_out(
    case: Case,
    planned: PlannedCase,
    proposals: tuple[PlannedBone, ...],
    *,
    goal: Goal,
    profile: Profile,
) -> PlannedCase:
    """A planned case with other proposals for its bones, and everything that follows from them.

    Parameters
    ----------
    case, planned, profile
        As for `planned_case`; `planned` had a strategy.
    proposals : tuple of PlannedBone
        One for each bone of the strategy's first operations, in its order.
    goal : Goal
        What is wanted.
    """
    strategy = planned.choice.recommended
    if strategy is None:
        return planned
    before = replace(
        planned,
        proposals=proposals,
        completed=(),
        plan=None,
        outlook=None,
        steps=(),
        prescriptions=(),
        findings=_weighed_first(planned),
    )
    return _carried_out(case, before, strategy, goal=goal, profile=profile)


def _growth(question: Question, measured: MeasuredCase, profile: Profile) -> GrowthOutlook:
    """Discrepancy at maturity and the option of staging; nothing once growth has ended."""
    between = measured.difference
    if between is None or between.total is None or measured.other is None:
        return NOT_SHORT
    length_mm = measured.other.frontal.need(Measure.LEG_LENGTH).value.value
    stops = [worst(way.findings) is Severity.STOP for way in question_ways(question, profile)]
    return growth_outlook(
        treated_leg_mm=length_mm + between.total.value,
        other_leg_mm=length_mm,
        discrepancy_sd_mm=between.total.sd,
        sex=question.sex,
        age_years=question.age_years,
        skeletal_age_years=question.skeletal_age_years,
        examination=question.examination,
        stage_limit_mm=max(profile.max_lengthening_femur_mm, profile.max_lengthening_tibia_mm),
        nail_possible=not all(stops),
        profile=profile,
    )


def _attempt(
    case: Case,
    found: PlannedCase,
    lengths_mm: Mapping[Bone, float],
    *,
    goal: Goal,
    profile: Profile,
    catalogue: Catalogue,
) -> PlannedCase:
    strategy = found.choice.recommended
    if strategy is None:
        return found
    proposals = tuple(
        _proposal(
            case,
            found,
            share,
            lengthening_mm=lengths_mm[share.bone],
            goal=goal,
            profile=profile,
            catalogue=catalogue,
        )
        for share in _first_shares(strategy)
    )
    return _carried_out(case, replace(found, proposals=proposals), strategy, goal=goal, profile=profile)


def _left_over_mm(carried: PlannedCase, goal: Goal) -> float | None:
    """Length still to be gained after all that the plan does, beyond what is to be left short [mm]."""
    if carried.outlook is None:
        return None
    between = carried.outlook.stage(StageName.FULL_LENGTH).discrepancy
    if between is None or between.total is None:
        return None
    return -between.total.value - goal.leave_short_mm


def _free_bone(shares: tuple[BoneShare, ...], goal: Goal) -> Bone | None:
    """The bone that gains most, if the surgeon has not fixed how much."""
    fixed = {choice.bone for choice in goal.bones if choice.lengthening_mm is not None}
    free = [share for share in shares if share.bone not in fixed and share.lengthening_mm > 0]
    return max(free, key=lambda share: share.lengthening_mm).bone if free else None


def _in_stages(strategy: Strategy) -> bool:
    return any(count > 1 for count in _operations_of(strategy).values())


def _operations_of(strategy: Strategy) -> dict[Bone, int]:
    """How often each bone is operated on."""
    return {bone: sum(s.bone is bone for st in strategy.stages for s in st.shares) for bone in Bone}


def _first_shares(strategy: Strategy) -> tuple[BoneShare, ...]:
    """What the first operation on each bone does, in the order of treatment."""
    first: dict[Bone, BoneShare] = {}
    for stage in strategy.stages:
        for share in stage.shares:
            first.setdefault(share.bone, share)
    return tuple(first.values())


def _choice(goal: Goal, bone: Bone) -> BoneChoice | None:
    return next((choice for choice in goal.bones if choice.bone is bone), None)


def _proposal(
    case: Case,
    found: PlannedCase,
    share: BoneShare,
    *,
    lengthening_mm: float,
    goal: Goal,
    profile: Profile,
    catalogue: Catalogue,
) -> PlannedBone:
    return plan_bone(
        BoneTask(
            leg=found.leg,
            direction=share.direction,
            # A whole number of millimetres is what can be prescribed and checked on a film.
            lengthening_mm=float(round(lengthening_mm)),
            situation=found.situation.of(share.bone),
            targets=found.targets,
            profile=profile,
            catalogue=catalogue,
            examination=case.examination,
            choice=_choice(goal, share.bone),
            correct_alignment=goal.correct_alignment and share.corrects,
        )
    )


def _carried_out(
    case: Case, found: PlannedCase, strategy: Strategy, *, goal: Goal, profile: Profile
) -> PlannedCase:
    """Complete each bone and carry the plan out on the leg; findings only when a bone has no plan."""
    weighed = [*found.findings, *(f for p in found.proposals for f in p.findings), *_later_stages(strategy)]
    plans: list[BonePlan] = [p.plan for p in found.proposals if p.plan is not None]
    if len(plans) < len(found.proposals):
        return replace(found, findings=_once(weighed))
    whole = tuple(
        completed(
            found.leg,
            plan,
            examination=case.examination,
            choice=_choice(goal, plan.bone),
            profile=profile,
        )
        for plan in plans
    )
    weighed += [f for bone in whole for f in bone.findings]
    bones = tuple(bone.plan for bone in whole)
    steps = operation_steps(
        bones,
        staging=strategy.staging,
        trochanter_below_head_mm=next(
            (b.trochanter_below_head_mm for b in whole if b.plan.bone is Bone.FEMUR), None
        ),
        fibular_courses=next(
            ((b.fibula.proximal_course, b.fibula.distal_course) for b in whole if b.fibula.fixation), ("", "")
        ),
    )
    plan = Plan(
        side=case.side, bones=bones, staging=strategy.staging, steps=checklist(steps), findings=_once(weighed)
    )
    other = found.measured.other
    foot = case.examination.foot_height_difference_mm
    ahead = outlook(
        found.leg,
        None if other is None else other.views.frontal,
        plan,
        profile,
        age_years=found.measured.age_years,
        targets=wanted_at_end(case, found),
        foot_difference_mm=None if foot is None else -foot,
        # The strategy has said it already, from the lengths alone.
        knee_height_counts=case.examination.knee is not JointState.FUSED
        and all(f.id != "knee-height-differs" for f in weighed),
    )
    weighed += ahead.findings
    return replace(
        found,
        completed=whole,
        plan=replace(plan, findings=_once(weighed)),
        outlook=ahead,
        steps=steps,
        prescriptions=tuple(
            default_prescription(
                profile, bone=b.bone, age_years=found.measured.age_years, target_mm=b.lengthening_mm
            )
            for b in bones
            if b.lengthening_mm > 0
        ),
        findings=_once(weighed),
    )


def _later_stages(strategy: Strategy) -> list[Finding]:
    """A bone that is lengthened more than once is planned for its first operation only."""
    return [
        Finding(
            id="later-stage-not-planned",
            severity=Severity.CAUTION,
            words=f"The {bone} is to be lengthened in {times} operations; this plan is the first of them.",
            next_step="Measure and plan again on new films before the next one.",
            rule="A later stage is planned on films taken after the one before.",
            source=COMMON_PRACTICE,
        )
        for bone, times in _operations_of(strategy).items()
        if times > 1
    ]


def _once(findings: list[Finding]) -> tuple[Finding, ...]:
    return ordered(tuple({(f.id, f.words): f for f in findings}.values()))
