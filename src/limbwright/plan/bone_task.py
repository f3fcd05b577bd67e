"""What is asked of the planner for one bone, and what it answers."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from limbwright.finding import Finding
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.blocking import BlockingPlan
from limbwright.plan.canal import CanalAlong
from limbwright.plan.circumstances import Examination
from limbwright.plan.correction import Correction, correction_for
from limbwright.plan.decision import BonePlan
from limbwright.plan.drift import ExpectedDrift
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import LegModel
from limbwright.plan.nail_fit import NailVerdict
from limbwright.plan.osteotomy import LevelScore, OffApex
from limbwright.plan.route import Route
from limbwright.plan.situation import BoneSituation
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneTask(Value):
    """What is asked of the planner for one bone."""

    leg: LegModel
    """The treated leg as it stands."""
    direction: Direction
    """Way of driving the nail."""
    lengthening_mm: float
    """Length to gain [mm]."""
    situation: BoneSituation
    """The bone, its angulations with their levels, and its rotation."""
    targets: Mapping[Measure, float] = field(default_factory=dict)
    """Wanted joint-orientation angles at full length [deg]."""
    profile: Profile = field(default_factory=Profile)
    """The surgeon's rules."""
    catalogue: Catalogue
    """The surgeon's nails."""
    examination: Examination = field(default_factory=Examination)
    """Bone quality, hardware, knee."""
    choice: BoneChoice | None = None
    """What the surgeon has fixed."""
    correct_alignment: bool = True
    """False when only length is wanted."""

    @property
    def bone(self) -> Bone:
        """The bone."""
        return self.situation.bone

    def correction(self) -> Correction:
        """What one osteotomy is to achieve beside length, within the practice's tolerances."""
        return correction_for(
            self.leg,
            self.situation,
            targets=self.targets,
            tolerance_deg=self.profile.angle_tolerance_deg,
            sagittal_tolerance_deg=self.profile.sagittal_tolerance_deg,
            rotation_tolerance_deg=self.profile.rotation_tolerance_deg,
            correct_alignment=self.correct_alignment,
        )

    def nails(self) -> tuple[Nail, ...]:
        """Nails to judge: the chosen one, or all of the catalogue for this bone and way."""
        if self.choice is not None and self.choice.nail is not None:
            return (self.catalogue.nail(self.choice.nail),)
        return self.catalogue.nails_for(self.bone, self.direction)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBone(Value):
    """What the planner proposes for one bone, and what it weighed."""

    bone: Bone
    """Bone."""
    plan: BonePlan | None
    """The proposal, without fibula and pins; None when something stops it, named among the findings."""
    nail: NailVerdict | None = None
    """The chosen nail with its numbers."""
    runners_up: tuple[NailVerdict, ...] = ()
    """Other nails that would do, in the order of preference."""
    rejected: tuple[NailVerdict, ...] = ()
    """Nails that do not fit at the chosen level (or the last one tried), each with its reasons."""
    correction: Correction
    """What is aimed at, with two osteotomies: at the one that is lengthened."""
    second_correction: Correction | None = None
    """What is aimed at with a second osteotomy; None with one."""
    route: Route | None = None
    """The nail's lines."""
    canals: tuple[CanalAlong, ...] = ()
    """Traced canals along the chosen nail, one for each side of the osteotomy that is lengthened."""
    levels: tuple[LevelScore, ...] = ()
    """Levels that may be cut, best first."""
    off_apex: tuple[OffApex, ...] = ()
    """What each distance from the apex would cost; empty without a correction or a traced width."""
    drift: ExpectedDrift | None = None
    """Usual drift at the chosen level."""
    blocking: BlockingPlan | None = None
    """Blocking screws and what they gain."""
    reasons: tuple[str, ...]
    """How the proposal came about, step by step."""
    findings: tuple[Finding, ...] = ()
    """What to weigh, worst first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTried(Value):
    """One level, or two of one bone, with the nails judged there."""

    score: LevelScore
    """The level that is lengthened."""
    route: Route
    """The nail's lines at it."""
    verdicts: tuple[NailVerdict, ...]
    """Every nail judged."""
    second_score: LevelScore | None = None
    """The level that is only corrected; None with one osteotomy."""
