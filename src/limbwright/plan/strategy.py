"""A strategy: which bone is lengthened by how much, in which stages, and what that leads to."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.finding import Finding
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.burden import BoneBurden
from limbwright.plan.duration import Duration
from limbwright.plan.goal import Staging
from limbwright.quantity import Directed, Value


class StrategyName(StrEnum):
    """The ways that are laid side by side."""

    FEMUR = "femur alone"
    TIBIA = "tibia alone"
    BOTH_TOGETHER = "femur and tibia together"
    BOTH_STAGED = "femur and tibia, one after the other"
    SURGEON = "as the surgeon chose"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneShare(Value):
    """What one operation does to one bone."""

    bone: Bone
    """Femur or tibia."""
    direction: Direction
    """Way the nail enters."""
    lengthening_mm: float
    """Length to gain in this stage; 0 = corrected and held, not lengthened [mm]."""
    percent_of_bone: float
    """The same as a share of the bone's present length [%]."""
    corrects: bool
    """True when the bone's deformity is corrected in this stage."""
    burden: BoneBurden
    """How much of the soft tissue's tolerance it uses."""
    duration: Duration | None
    """Days it takes; None for a bone that is not lengthened, for which no healing index is published."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(Value):
    """One operation."""

    shares: tuple[BoneShare, ...]
    """Bones treated in it."""
    burden_index: float
    """Sum of the burdens of its bones; 1 = one bone at its limit."""
    duration: Duration | None
    """Slowest of its bones; None when nothing is lengthened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RemainingDeformity(Value):
    """Deformity that a strategy leaves in a bone."""

    bone: Bone
    """Femur or tibia."""
    frontal: Directed
    """Varus or valgus left [deg]."""
    sagittal: Directed
    """Procurvatum or recurvatum left [deg]."""
    rotation: Directed | None
    """External or internal rotation left; None when it was not examined [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strategy(Value):
    """One way to treat the leg, with its consequences."""

    name: StrategyName
    """Which way."""
    stages: tuple[Stage, ...]
    """Operations in order; the next one waits until the one before has typically healed."""
    staging: Staging | None
    """Simultaneous or staged when two bones are treated."""
    residual: Directed
    """Discrepancy left at the end: treated leg shorter or longer [mm]."""
    off_goal_mm: float
    """Distance of that discrepancy from the one wanted, never negative [mm]."""
    knee_height: Directed
    """Treated knee against the other at the end, feet level: distal or proximal [mm]."""
    remaining: tuple[RemainingDeformity, ...]
    """Deformity left, femur first."""
    burden_index: float
    """Burden of its heaviest stage; 1 = one bone at its limit."""
    healed_low_day: float
    """Day from the first operation on which the last bone has healed, quick healer [days]."""
    healed_typical_day: float
    """The same, mean of the series [days]."""
    healed_high_day: float
    """The same, slow healer [days]."""
    operations: int
    """Operations that set a nail or make it lengthen again; removals are not counted."""
    nails: int
    """Nails set, or made to lengthen again, over all operations."""
    excluded: tuple[Finding, ...]
    """Reasons why the rules exclude it; empty when they do not."""
    findings: tuple[Finding, ...]
    """What else to weigh."""

    def lengthening_mm(self, bone: Bone) -> float:
        """Whole length gained in a bone over all stages. [mm]"""
        return sum(s.lengthening_mm for stage in self.stages for s in stage.shares if s.bone is bone)

    def corrects(self, bone: Bone) -> bool:
        """Whether the bone's deformity is corrected."""
        return any(s.corrects for stage in self.stages for s in stage.shares if s.bone is bone)

    def ways(self) -> tuple[tuple[Bone, Direction], ...]:
        """Bones it treats with the way their nails go in, in the order of treatment."""
        return tuple(dict.fromkeys((s.bone, s.direction) for stage in self.stages for s in stage.shares))

    def bones(self) -> tuple[Bone, ...]:
        """Bones it treats, in the order of treatment."""
        return tuple(dict.fromkeys(s.bone for stage in self.stages for s in stage.shares))
