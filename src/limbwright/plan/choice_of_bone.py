"""Choice of bone: the strategies side by side, the one recommended and why, and the runner-up."""

from dataclasses import dataclass
from itertools import chain

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.plan.circumstances import JointState
from limbwright.plan.comparison import compare
from limbwright.plan.maturity import maturity_findings
from limbwright.plan.rule import rule_source
from limbwright.plan.strategies import Question, question_ways, strategies
from limbwright.plan.strategy import Strategy, StrategyName
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceOfBone(Value):
    """Strategies side by side, with the one recommended and why."""

    strategies: tuple[Strategy, ...]
    """All of them, also those the rules exclude; the surgeon's own first when bones are fixed."""
    recommended: Strategy | None
    """The surgeon's own when bones are fixed; None when the rules exclude them all."""
    reason: str
    """Why it is recommended."""
    runner_up: Strategy | None
    """The next best that the rules do not exclude."""
    runner_up_reason: str
    """What the runner-up loses by."""
    findings: tuple[Finding, ...]
    """What to weigh about the choice as a whole, worst first."""


def choose_bones(question: Question, profile: Profile) -> ChoiceOfBone:
    """Lay the strategies side by side and recommend one, with the reason and the runner-up.

    A choice the surgeon has fixed is the recommended one; where a rule speaks against it, a finding says so
    and the runner-up is what the rules would have chosen.
    """
    laid = strategies(question, profile)
    own = laid[0] if laid[0].name is StrategyName.SURGEON else None
    ruled = laid[1:] if own else laid
    result = compare(
        ruled,
        situation=question.situation,
        profile=profile,
        alignment_counts=question.goal.correct_alignment,
        knee_height_counts=question.examination.knee is not JointState.FUSED,
    )
    first = ruled[result.first] if result.first is not None else None
    second = ruled[result.second] if result.second is not None else None
    findings = [*_leg_findings(question, profile)]
    shown = own or first
    if shown is not None:
        findings += maturity_findings(question_ways(question, profile), bones=shown.ways())
    if own:
        findings += _surgeon_against_rules(own, first, result.reason)
        return ChoiceOfBone(
            strategies=laid,
            recommended=own,
            reason="The surgeon fixed the bones.",
            runner_up=first,
            runner_up_reason=f"What the rules would choose. {result.reason}",
            findings=ordered(tuple(dict.fromkeys((*findings, *own.findings)))),
        )
    if first is None:
        findings.append(_none_left(laid))
    return ChoiceOfBone(
        strategies=laid,
        recommended=first,
        reason=result.reason,
        runner_up=second,
        runner_up_reason=result.runner_up_reason,
        findings=ordered(tuple(dict.fromkeys((*findings, *(first.findings if first else ()))))),
    )


def _none_left(laid: tuple[Strategy, ...]) -> Finding:
    reasons = tuple(
        dict.fromkeys(f.words for f in chain.from_iterable(s.excluded for s in laid) if f.severity != "note")
    )
    return Finding(
        id="no-strategy-left",
        severity=Severity.STOP,
        words=f"The rules exclude every strategy: {' '.join(reasons)}",
        next_step="Treat what stands in the way first, or choose bones yourself and weigh the reasons.",
        rule="A strategy is recommended only when no rule speaks against it.",
        source=COMMON_PRACTICE,
    )


def _surgeon_against_rules(own: Strategy, ruled: Strategy | None, reason: str) -> list[Finding]:
    found = list(own.excluded)
    if ruled is None:
        return found
    same = {b: round(own.lengthening_mm(b)) for b in own.bones()} == {
        b: round(ruled.lengthening_mm(b)) for b in ruled.bones()
    }
    if not same:
        found.append(
            Finding(
                id="surgeon-choice-differs",
                severity=Severity.CAUTION if own.excluded else Severity.NOTE,
                words=f"The bones fixed differ from what the rules would choose, '{ruled.name}'. {reason}",
                next_step="Compare both; the surgeon's choice stands.",
                rule="What the surgeon has fixed is kept, and the difference is shown.",
                source=COMMON_PRACTICE,
            )
        )
    return found


def _leg_findings(question: Question, profile: Profile) -> list[Finding]:
    found = []
    need = question.need_mm
    if 0 < need < profile.discrepancy_treat_from_mm and question.situation.short_mm > 0:
        found.append(
            Finding(
                id="discrepancy-small",
                severity=Severity.NOTE,
                words=f"{need:.0f} mm are to be gained, below the {profile.discrepancy_treat_from_mm:g} mm "
                "from which more than a lift is offered.",
                next_step="Weigh a lift, or correction of the deformity alone.",
                numbers=(Number(name="length to gain", value=need, unit="mm"),),
                rule="A small discrepancy needs no lengthening of its own.",
                source=rule_source(profile, "discrepancy_treat_from_mm"),
            )
        )
    if question.examination.knee is JointState.FUSED:
        found.append(
            Finding(
                id="knee-height-not-counted",
                severity=Severity.NOTE,
                words="The knee is fused, so the height of the knee is not counted in the comparison.",
                next_step="Check that the fused leg clears the ground: some shortness helps the swing.",
                rule="Knee height matters where the knee bends.",
                source=COMMON_PRACTICE,
            )
        )
    return found
