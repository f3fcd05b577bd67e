"""Other plans worth comparing with the plan of a case, how sure each one is, and carrying one of them out."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from limbwright.case.case import Case
from limbwright.case.forecast import CaseAhead, course_days
from limbwright.case.planned import PlannedCase, carried_out, wanted_at_end
from limbwright.course.prescription import default_prescription
from limbwright.implant.catalogue import Catalogue
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.decision import BonePlan
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.planner import BoneTask
from limbwright.plan.search.candidate import BoneCandidate, LegCandidate, described
from limbwright.plan.search.search import PlannedTask, leg_parts, search_leg, worth_comparing
from limbwright.plan.search.space import Held
from limbwright.plan.stage import StageName
from limbwright.plan.uncertainty.chain import BoneEnd, EndChain, Slip, end_values
from limbwright.plan.uncertainty.uncertainty import (
    BonePlanned,
    Draws,
    LengthsOfLeg,
    chain_of,
    plan_uncertainty,
)
from limbwright.plan.uncertainty.values import Criterion, PlanUncertainty
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

SHORTLIST = 8  # looked at with both planes solved together, before six are shown
MOST = 6
LEAST_SHARE = 0.5  # of the plan's own probability; a plan that ends well less often is no choice
FEW = Draws(count=1024)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseCandidate(Value):
    """One plan of the leg with how sure it is. The model of drift has not been validated clinically."""

    leg: LegCandidate
    """The plan of every lengthened bone, its parts, what it buys and costs against the plan in force."""
    probability: float
    """Share of draws that end inside all tolerances, length included."""
    least_sure: Criterion | None
    """The tolerance that is kept least probably; None without any."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseCandidates(Value):
    """What the search of a case found."""

    considered: int
    """Geometric candidates looked at."""
    feasible: int
    """Those that keep every hard limit."""
    evaluated: int
    """Plans of a bone worked out exactly, each with its layouts of blocking screws."""
    reference: CaseCandidate
    """The plan in force."""
    candidates: tuple[CaseCandidate, ...]
    """At most six others, the surest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep(Value):
    """What of one bone's plan is kept while the rest is searched, beside what the goal fixes."""

    level: bool = False
    """The level of the osteotomy."""
    nail: bool = False
    """The nail."""
    length: bool = False
    """The length to gain."""
    path: bool = False
    """The best-fit line in both fragments."""
    screws: bool = False
    """The planner's rule for blocking screws."""


NOTHING = Keep()


def case_candidates(
    case: Case,
    planned: PlannedCase,
    profile: Profile,
    catalogue: Catalogue,
    *,
    keep: Mapping[Bone, Keep] | None = None,
    draws_of: Draws | None = None,
) -> CaseCandidates | None:
    """Plans that are worth comparing with the plan in force, all lengthened bones searched together.

    Parameters
    ----------
    case, planned, profile, catalogue
        As for `planned_case`; what the goal fixes is kept and the rest searched.
    keep : mapping, optional
        What else is kept, by bone.
    draws_of : Draws, optional
        Draws for the probability; 1,024 unless given.

    Returns
    -------
    CaseCandidates or None
        None without a plan that lengthens a bone.

    Notes
    -----
    The search picks layouts of screws with each plane alone and tells their drift with both together, at full
    length and without new bone. Its shortlist is then forecast along the course, and compared again by that.
    """
    bones = _lengthened(case, planned, profile, catalogue, keep=keep or {})
    if not bones:
        return None
    others = _others(planned, bones)
    targets = wanted_at_end(case, planned)
    found = search_leg(planned.leg, bones, targets=targets, others=others, most=SHORTLIST)
    sure = _Sure(case, planned, profile, found.reference, others, draws_of=draws_of or FEW)
    reference = sure.of(found.reference)
    least = LEAST_SHARE * reference.probability
    exact = [c for c in (sure.of(x) for x in found.candidates) if c.probability >= least]
    shown = worth_comparing(reference.leg, [c.leg for c in exact], most=MOST)
    by_bones = {c.leg.bones: c for c in exact}
    chosen = [replace(by_bones[leg.bones], leg=leg) for leg in shown]
    return CaseCandidates(
        considered=found.considered,
        feasible=found.feasible,
        evaluated=found.evaluated,
        reference=reference,
        candidates=tuple(sorted(chosen, key=lambda c: -c.probability)),
    )


def _lengthened(
    case: Case,
    planned: PlannedCase,
    profile: Profile,
    catalogue: Catalogue,
    *,
    keep: Mapping[Bone, Keep],
) -> list[PlannedTask]:
    """The lengthened bones of a plan, from proximal to distal, as the search takes them."""
    if planned.plan is None:
        return []
    proposals = {p.bone: p for p in planned.proposals}
    found = []
    for plan in sorted(planned.plan.bones, key=lambda b: b.bone is not Bone.FEMUR):
        if plan.lengthening_mm <= 0 or plan.bone not in proposals:
            continue
        kept = keep.get(plan.bone, NOTHING)
        task = planner_task(case, planned, plan, profile, catalogue)
        found.append(
            PlannedTask(
                task=replace(task, choice=_kept(task.choice, plan, kept)),
                plan=plan,
                proposed=proposals[plan.bone],
                held=Held(path=kept.path, screws=kept.screws),
            )
        )
    return found


def _others(planned: PlannedCase, searched: list[PlannedTask]) -> tuple[BonePlan, ...]:
    """Bones of the plan that are not searched, as they are corrected and not lengthened."""
    names = {b.plan.bone for b in searched}
    return () if planned.plan is None else tuple(p for p in planned.plan.bones if p.bone not in names)


def _kept(choice: BoneChoice | None, plan: BonePlan, keep: Keep) -> BoneChoice | None:
    """What the goal fixes, and what is kept of the plan."""
    if not (keep.level or keep.nail or keep.length):
        return choice
    found = choice or BoneChoice(bone=plan.bone)
    if keep.level:
        found = replace(found, osteotomy_below_joint_mm=plan.osteotomy.below_joint_mm)
    if keep.nail:
        found = replace(found, nail=plan.nail.name)
    return replace(found, lengthening_mm=plan.lengthening_mm) if keep.length else found


def planner_task(
    case: Case, planned: PlannedCase, plan: BonePlan, profile: Profile, catalogue: Catalogue
) -> BoneTask:
    """The planner's task for one bone of a planned case, at the length its plan gains."""
    goal = case.goal or Goal()
    strategy = planned.choice.recommended
    shares = [] if strategy is None else [s for stage in strategy.stages for s in stage.shares]
    corrects = next((s.corrects for s in shares if s.bone is plan.bone), True)
    return BoneTask(
        leg=planned.leg,
        direction=plan.direction,
        lengthening_mm=plan.lengthening_mm,
        situation=planned.situation.of(plan.bone),
        targets=planned.targets,
        profile=profile,
        catalogue=catalogue,
        examination=case.examination,
        choice=next((c for c in goal.bones if c.bone is plan.bone), None),
        correct_alignment=goal.correct_alignment and corrects,
    )


class _Sure:
    """Forecast and probability of each candidate, with what all of them share."""

    def __init__(
        self,
        case: Case,
        planned: PlannedCase,
        profile: Profile,
        reference: LegCandidate,
        held: tuple[BonePlan, ...],
        *,
        draws_of: Draws,
    ) -> None:
        self.planned, self.profile, self.held, self.draws_of = planned, profile, held, draws_of
        self.bare, self.targets = replace(planned.leg, walls=()), wanted_at_end(case, planned)
        self.lengths = lengths_of_leg(case, planned)
        self.length_mm = self._reading(reference, Measure.LEG_LENGTH, drifted=False)
        self.goal_mm = sum(b.plan.lengthening_mm for b in reference.bones)
        self.near: EndChain | None = None

    def of(self, candidate: LegCandidate) -> CaseCandidate:
        """One candidate forecast along its course with both planes together, and its probability."""
        forecasts = [self._forecast(b) for b in candidate.bones]
        drifted = replace(
            candidate,
            bones=tuple(
                replace(b, drift=f.planned.drift()) for b, f in zip(candidate.bones, forecasts, strict=True)
            ),
        )
        target = self.targets.get(Measure.MAD)
        mad = self._reading(drifted, Measure.MAD, drifted=True)
        gained = sum(b.plan.lengthening_mm for b in drifted.bones)
        parts = leg_parts(
            drifted.bones,
            mad_off_mm=0.0 if target is None or not np.isfinite(mad) else abs(mad - target),
            length_off_mm=abs(gained - self.goal_mm),
        )
        bones = [
            *(BonePlanned(plan=b.plan, forecast=f) for b, f in zip(drifted.bones, forecasts, strict=True)),
            *(BonePlanned(plan=p) for p in self.held),
        ]
        # The first one asked is the plan in force; the others end much like it.
        self.near = self.near or chain_of(self.planned.leg, bones)
        made = plan_uncertainty(
            self.planned.leg,
            bones,
            self.profile,
            targets=self.targets,
            lengths=self._lengths(drifted),
            draws_of=self.draws_of,
            shares=False,
            near=self.near,
        )
        parts = replace(parts, outside_percent=100 * (1 - made.inside_all))
        return CaseCandidate(
            leg=replace(drifted, parts=parts, words=described(parts)),
            probability=made.inside_all,
            least_sure=made.least_sure if made.criteria else None,
        )

    def _forecast(self, bone: BoneCandidate) -> BoneForecast:
        pace = default_prescription(
            self.profile,
            bone=bone.bone,
            age_years=self.planned.measured.age_years,
            target_mm=bone.plan.lengthening_mm,
        )
        days = course_days(pace)
        return bone_forecast(bone.plan, bone.canals, days, self.profile, sampling=Sampling(count=0))

    def _reading(self, candidate: LegCandidate, measure: Measure, *, drifted: bool) -> float:
        ends = [
            BoneEnd(plan=b.plan, slip=Slip.of_drift(b.drift if drifted else None)) for b in candidate.bones
        ]
        ends += [BoneEnd(plan=p) for p in self.held]
        return float(end_values(self.bare, ends, (measure,))[0])

    def _lengths(self, candidate: LegCandidate) -> LengthsOfLeg | None:
        if self.lengths is None:
            return None
        change = self._reading(candidate, Measure.LEG_LENGTH, drifted=False) - self.length_mm
        return replace(self.lengths, end_mm=self.lengths.end_mm + change)


def lengths_of_leg(case: Case, planned: PlannedCase) -> LengthsOfLeg | None:
    """Length against the other leg now and by the plan; None without the other leg or a plan."""
    if planned.outlook is None:
        return None
    now, end = (
        planned.outlook.stage(name).discrepancy for name in (StageName.AS_IT_STANDS, StageName.FULL_LENGTH)
    )
    if now is None or end is None or now.total is None or end.total is None:
        return None
    read, scale_sd = planned.measured.difference, planned.leg.frontal_scale_sd
    sd = 0.0 if read is None or read.total is None else read.total.sd
    return LengthsOfLeg(
        now_mm=now.total.value,
        end_mm=end.total.value,
        wanted_mm=-(case.goal or Goal()).leave_short_mm,
        now_sd_mm=max(sd**2 - (scale_sd * now.total.value) ** 2, 0.0) ** 0.5,
    )


def case_uncertainty(
    case: Case, planned: PlannedCase, ahead: CaseAhead, profile: Profile, *, draws_of: Draws | None = None
) -> PlanUncertainty | None:
    """How sure the end of a planned case is, and what is worth measuring again; None without a plan.

    Parameters
    ----------
    case, planned, ahead, profile
        The case, its plan, the plan looked ahead (`case_ahead`), and the surgeon's numbers.
    draws_of : Draws, optional
        Draws; 10,000 unless given.
    """
    forecasts = {b.bone: b.forecast for b in ahead.bones}
    return forecast_uncertainty(case, planned, forecasts, profile, draws_of=draws_of)


def forecast_uncertainty(
    case: Case,
    planned: PlannedCase,
    forecasts: Mapping[Bone, BoneForecast],
    profile: Profile,
    *,
    draws_of: Draws | None = None,
) -> PlanUncertainty | None:
    """The same from the forecasts of its bones (`case_forecasts`)."""
    if planned.plan is None:
        return None
    return plan_uncertainty(
        planned.leg,
        [BonePlanned(plan=p, forecast=forecasts.get(p.bone)) for p in planned.plan.bones],
        profile,
        targets=wanted_at_end(case, planned),
        lengths=lengths_of_leg(case, planned),
        draws_of=draws_of,
    )


def candidate_planned(
    case: Case, planned: PlannedCase, candidate: CaseCandidate, profile: Profile
) -> PlannedCase:
    """A candidate carried out as a plan of its own, with everything that follows from it.

    Parameters
    ----------
    case, planned, profile
        The case, the plan the candidate was compared with, and the surgeon's rules.
    """
    chosen = {b.bone: b.proposed for b in candidate.leg.bones}
    proposals = tuple(chosen.get(p.bone, p) for p in planned.proposals)
    return carried_out(case, planned, proposals, goal=case.goal or Goal(), profile=profile)
