"""Values of the choice of blocking screws."""

from dataclasses import dataclass

from limbwright.finding import Finding
from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import BlockingScrew
from limbwright.plan.drift import Drift
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutOffered(Value):
    """One layout of blocking screws and what it leads to.

    Both planes are solved together. `worst_deg` to `shift_mm` are over the whole course and all scenarios,
    `likely_deg` and `rarely_above_deg` over draws of uncertain inputs with the pull as expected, `together`
    at full length with the pull as expected.
    """

    screws: tuple[BlockingScrew, ...]
    """Its screws; none for the bone without."""
    worst_deg: float
    """Largest angulation over all scenarios and the course [deg]."""
    expected_deg: float
    """Mean over the scenarios, by weight, of the largest angulation over the course [deg]."""
    worst_by_scenario_deg: tuple[float, ...]
    """Largest angulation in each scenario, in order [deg]."""
    frontal_deg: float
    """Largest frontal angulation, varus + [deg]."""
    sagittal_deg: float
    """Largest sagittal angulation, procurvatum + [deg]."""
    step_mm: float
    """Largest step at the osteotomy [mm]."""
    shift_mm: float
    """Largest shift of the moving fragment's axis at the joint at its end [mm]."""
    bought_deg: float
    """What it takes off the worst angulation of the layout one screw smaller [deg]."""
    misplaced_deg: float | None
    """What one of its screws 1 mm off adds at worst; None where it was not asked [deg]."""
    ends_slack: bool
    """Whether one of its screws stands beside the thin rod at full length."""
    near: tuple[str, ...]
    """Nerves and vessels near its screws."""
    together: Drift | None
    """Drift at full length; None where it has no number."""
    oblique_deg: float | None
    """The same in its own plane [deg]."""
    likely_deg: float | None
    """Mean over the draws of the largest angulation over the course; None where it was not drawn [deg]."""
    rarely_above_deg: float | None
    """Nineteen draws in twenty stay below it; None where it was not drawn [deg]."""

    @property
    def count(self) -> int:
        """Number of screws."""
        return len(self.screws)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockingAdvice(Value):
    """Which blocking screws earn their place."""

    bone: Bone
    """Bone."""
    scenarios: tuple[str, ...]
    """Scenarios of the pull, the expected one first."""
    none: LayoutOffered
    """Without blocking screws."""
    best: tuple[LayoutOffered, ...]
    """Best layout of one, two and three screws, as far as there is one."""
    smallest_within: LayoutOffered | None
    """Fewest screws that keep the worst angulation inside the limit."""
    runners_up: tuple[LayoutOffered, ...]
    """Layouts as large as the best and within the margin of it."""
    worst: LayoutOffered
    """The worst layout there is."""
    making_worse: tuple[LayoutOffered, ...]
    """Layouts that drift more than none."""
    best_by_scenario: tuple[LayoutOffered, ...]
    """Best layout if one scenario were certain, in their order."""
    scenarios_agree: bool
    """Whether the scenarios ask for the same fragments and sides."""
    too_tight: tuple[tuple[str, BlockingScrew, float], ...]
    """Screws that cannot stand where they would gain: why, the screw, and the degrees it would save."""
    layouts_solved: int
    """Layouts screened, each in its plane."""
    layouts_together: int
    """Layouts solved with both planes together."""
    exhaustive: bool
    """Whether every layout was solved."""
    findings: tuple[Finding, ...]
    """What follows, worst first."""

    @property
    def offered(self) -> LayoutOffered | None:
        """Smallest layout inside the limit; None where the scenarios disagree or none reaches it."""
        return self.smallest_within if self.scenarios_agree else None
