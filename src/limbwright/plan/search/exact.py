"""A candidate worked out exactly: route, nail, blocking layouts, drift by the contact solver, contact."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from limbwright.error import LimbwrightError
from limbwright.finding import ordered
from limbwright.plan.bone_task import BoneTask, LevelTried, PlannedBone
from limbwright.plan.canal import CanalAlong
from limbwright.plan.correction import Correction
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.drift import Drift
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.motion import turned_deg
from limbwright.plan.nail_fit import NailDemand, NailVerdict, nail_verdict
from limbwright.plan.osteotomy import POOR, LevelScore, bone_line, level_cost_mm, level_score
from limbwright.plan.planner_finding import drift_expected
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.proposal import far_room_mm, proposal
from limbwright.plan.reduction import lengthening_of, reductions_of
from limbwright.plan.route import Route, canals_on
from limbwright.plan.search.candidate import NO_NUMBER_DEG, BoneCandidate, Parts
from limbwright.plan.search.layout import drift_of, layouts
from limbwright.plan.search.level_lines import Lines, SecondHeld, route_canals
from limbwright.plan.search.line import STRAIGHT, LineChange, LineShift, canals_of_plan, moved_route
from limbwright.plan.search.screening import RESERVE_MM, Where, cell_shift
from limbwright.plan.search.space import Held, Space
from limbwright.plan.stage import CutFaces, cut_faces
from limbwright.plan.two_level_finding import middle_hold, second_not_forecast


@dataclass(slots=True, kw_only=True)
class ExactBone:
    """One bone's task with what every candidate of it shares."""

    task: BoneTask
    correction: Correction
    """What is aimed at where the bone is lengthened."""
    limits: HardwareLimits
    held: Held
    lines: Lines
    routes: dict[tuple[float, float], Route | None] = field(default_factory=dict)
    """Best-fit routes by level and length."""

    def route(self, level_mm: float, gain_mm: float) -> Route | None:
        """The best fit at a level; None where no turn reaches the aim."""
        key = (level_mm, gain_mm)
        if key not in self.routes:
            try:
                self.routes[key] = self.lines.route(level_mm, gain_mm)
            except LimbwrightError:
                self.routes[key] = None
        return self.routes[key]

    def score(self, level_mm: float) -> LevelScore:
        """A level with its zone, bone quality, shift and cost."""
        task, profile = self.task, self.task.profile
        length = bone_line(task.leg, task.bone).length_mm
        plain = level_score(
            level_mm,
            bone=task.bone,
            length_mm=length,
            apex_below_joint_mm=self.correction.apex_below_joint_mm,
            correction_deg=self.correction.size_deg,
            judged=task.examination.bone_quality,
        )
        cost = level_cost_mm(
            level_mm,
            length_mm=length,
            apex_below_joint_mm=self.correction.apex_below_joint_mm,
            near_apex_mm=profile.osteotomy_to_apex_mm,
            metaphysis_preference_mm=profile.metaphysis_preference_mm,
            poor_bone=float(plain.quality in POOR),
        )
        return replace(plain, cost_mm=float(cost))

    def candidates(self, space: Space, where: Where) -> Iterator[BoneCandidate]:
        """One geometry with its layouts of blocking screws; nothing when a hard limit says no after all."""
        level, gain = round(float(space.levels_mm[where[0]]), 6), float(space.gains_mm[where[2]])
        yield from self.worked_out(level, gain, where[1], line_at(space, where), space)

    def worked_out(
        self, level_mm: float, gain_mm: float, nail: int, line: LineChange, space: Space
    ) -> Iterator[BoneCandidate]:
        """The same by its values."""
        straight = self.route(level_mm, gain_mm)
        if straight is None:
            return
        task = replace(self.task, lengthening_mm=gain_mm)
        route = moved_route(straight, line)
        chosen = space.nails[nail]
        rules, sunk = nail_rules(task.profile), task.profile.nail_end_below_surface_mm
        depth = route.osteotomy_depth_mm(chosen, sunk)
        canals = route_canals(task.leg, route, depth)
        room = depth + far_room_mm(route, self.limits, level_mm, rules.tip_clearance_mm)
        demand = NailDemand(
            osteotomy_depth_mm=depth,
            lengthening_mm=gain_mm,
            room_mm=room,
            second_depth_mm=None if route.second is None else depth + route.second.deeper_mm,
        )
        verdict = nail_verdict(chosen, demand=demand, rules=rules, canals=canals_on(task.leg, route, depth))
        if not verdict.fits:
            return
        score = self.score(level_mm)
        shown = PlannedBone(
            bone=task.bone,
            plan=None,
            correction=self.correction,
            second_correction=self.lines.corrections[1] if isinstance(self.lines, SecondHeld) else None,
            reasons=(self.correction.reason,),
        )
        tried = LevelTried(score=score, route=route, verdicts=(verdict,))
        found = proposal(task, shown, tried, (verdict,), list(self.limits.findings))
        plan = found.plan
        if plan is None:
            return
        if plan.second is not None:
            held = middle_hold(plan, verdict)
            more = (second_not_forecast(plan), *((held,) if held is not None else ()))
            found = replace(found, findings=ordered((*found.findings, *more)))
        settled = _Settled(
            proposed=found,
            plan=plan,
            canals=canals,
            verdict=verdict,
            straight=straight,
            line=line,
            level_mm=level_mm,
        )
        yield from _Geometry(self, settled).with_layouts()

    def of_plan(self, plan: BonePlan, proposed: PlannedBone) -> BoneCandidate:
        """A plan as it is, for comparison."""
        canals = canals_of_plan(self.task.leg, plan)
        depth = plan.osteotomy.depth_mm
        level = plan.osteotomy.below_joint_mm
        straight = self.route(round(level, 6), plan.lengthening_mm)
        room = depth + (straight.cut_to_far_end_mm if straight is not None else plan.nail.length_mm)
        verdict = nail_verdict(
            plan.nail,
            demand=NailDemand(
                osteotomy_depth_mm=depth,
                lengthening_mm=plan.lengthening_mm,
                room_mm=room,
                second_depth_mm=None if plan.second is None else plan.second.osteotomy.depth_mm,
            ),
            rules=nail_rules(self.task.profile),
            canals=canals,
        )
        settled = _Settled(
            proposed=proposed,
            plan=plan,
            canals=canals,
            verdict=verdict,
            straight=straight,
            line=STRAIGHT,
            level_mm=level,
        )
        geometry = _Geometry(self, settled)
        return geometry.candidate(plan.blocking_screws, geometry.drift(plan.blocking_screws))


def line_at(space: Space, where: Where) -> LineChange:
    """The line of one candidate against the best fit."""
    shifts = []
    for plane, (p, d) in enumerate(((where[3], where[4]), (where[5], where[6]))):
        offset, tilt, far_offset, far_tilt = cell_shift(space.cells[plane], p, d)
        shifts.append(
            LineShift(proximal_mm=offset, proximal_deg=tilt, distal_mm=far_offset, distal_deg=far_tilt)
        )
    return LineChange(frontal=shifts[0], sagittal=shifts[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Settled:
    """One geometry: everything but the blocking screws."""

    proposed: PlannedBone
    plan: BonePlan
    canals: tuple[CanalAlong, ...]
    verdict: NailVerdict
    straight: Route | None
    line: LineChange
    level_mm: float


class _Geometry:
    """One geometry with its blocking screws still open."""

    def __init__(self, bone: ExactBone, settled: _Settled) -> None:
        self.bone, self.settled, self.profile = bone, settled, bone.task.profile
        self.plan, self.canals = settled.plan, settled.canals
        faces = [cut_faces(bone.task.leg, reduced) for reduced in reductions_of(self.plan)]
        lost = [_contact_lost_percent(f) for f in faces]
        self.contact_lost = None if None in lost else max(x for x in lost if x is not None)
        self.shift_mm = max(f.shift_mm for f in faces)
        self.turn_off = Drift()
        # With two osteotomies the lines are the best fit, which ends as aimed at.
        if settled.straight is not None and self.plan.second is None:
            reduced = lengthening_of(self.plan)
            varus, procurvatum, _external = (float(x) for x in turned_deg(reduced.motion.matrix()))
            self.turn_off = Drift(
                varus_deg=varus - settled.straight.varus_deg,
                procurvatum_deg=procurvatum - settled.straight.procurvatum_deg,
            )

    def with_layouts(self) -> Iterator[BoneCandidate]:
        """The planner's own screws, and the best layouts of each number of screws."""
        rule = self.plan.blocking_screws
        if self.bone.held.screws:
            yield self.candidate(rule, self.drift(rule))
            return
        seen: set[tuple[BlockingScrew, ...]] = set()
        hardware = self.bone.task.examination.hardware
        for screws, drift in layouts(self.plan, self.canals, self.turn_off, self.profile, hardware=hardware):
            seen.add(screws)
            yield self.candidate(screws, drift)
        if rule and rule not in seen:
            yield self.candidate(rule, self.drift(rule))

    def drift(self, screws: tuple[BlockingScrew, ...]) -> Drift | None:
        """Drift at full length with these screws."""
        return drift_of(replace(self.plan, blocking_screws=screws), self.canals, self.profile)

    def _proposed(self, plan: BonePlan) -> PlannedBone:
        """The proposal with the candidate's own screws, and with findings that speak of these."""
        made = self.settled.proposed
        if made.blocking is None or made.drift is None or plan.blocking_screws == made.blocking.screws:
            return replace(made, plan=plan)
        own = replace(made.blocking, screws=plan.blocking_screws, findings=())
        told = drift_expected(made.drift, own, canal_known=bool(self.canals), profile=self.profile)
        others = [f for f in made.findings if f.id != told.id and not f.id.startswith("blocking-screw")]
        return replace(made, plan=plan, blocking=own, findings=ordered((*others, told)))

    def candidate(self, screws: tuple[BlockingScrew, ...], drift: Drift | None) -> BoneCandidate:
        """The geometry with one layout; the leg's own parts are left to the leg."""
        plan = replace(self.plan, blocking_screws=screws)
        overlap = self.settled.verdict.number("overlap at full length")
        wanted = nail_rules(self.profile).overlap_mm
        reamed = max(
            (n.value for n in self.settled.verdict.numbers if n.name == "most bone reamed on one side"),
            default=0.0,
        )
        made = BoneCandidate(
            bone=plan.bone,
            level_mm=self.settled.level_mm,
            line=self.settled.line,
            proposed=self._proposed(plan),
            plan=plan,
            canals=self.canals,
            turn_off=self.turn_off,
            drift=drift,
            overlap_mm=overlap,
            parts=Parts(
                end_off_deg=NO_NUMBER_DEG,
                start_off_deg=0.0,
                mad_off_mm=0.0,
                length_off_mm=abs(plan.lengthening_mm - self.bone.task.lengthening_mm),
                overlap_short_mm=max(RESERVE_MM - (overlap - wanted), 0.0),
                level_cost_mm=self.bone.score(self.settled.level_mm).cost_mm,
                shift_mm=self.shift_mm,
                contact_lost_percent=self.contact_lost,
                reamed_mm=max(reamed, 0.0),
                screws=len(screws),
            ),
        )
        angles = replace(made.parts, end_off_deg=made.end_off_deg, start_off_deg=made.start_off_deg)
        return replace(made, parts=angles)


def _contact_lost_percent(faces: CutFaces) -> float | None:
    """Share of the cut faces out of contact, by area, else by the lesser width; None where not known. [%]"""
    if faces.area_in_contact_percent is not None:
        return 100 - faces.area_in_contact_percent
    if faces.width_in_contact_percent is not None:
        return 100 - faces.width_in_contact_percent
    return None
