"""What the comparison of blocking-screw layouts means for the plan."""

from limbwright.finding import Finding, Number, Severity
from limbwright.mechanics import Plane
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.forecast.forecast_finding import MODEL, said_deg
from limbwright.plan.forecast.screw_values import BlockingAdvice, LayoutOffered
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile

SEEN_DEG = 0.05  # a layout that buys less is in the table, not in the words


def said_screw(screw: BlockingScrew) -> str:
    """A screw by side, fragment and distance."""
    return f"{screw.side} in the {screw.fragment} fragment, {screw.from_osteotomy_mm:.0f} mm from the cut"


def said_layout(layout: LayoutOffered) -> str:
    """A layout by its screws."""
    return "; ".join(said_screw(s) for s in layout.screws) if layout.screws else "no screw"


def advice_findings(advice: BlockingAdvice, plan: BonePlan, profile: Profile) -> tuple[Finding, ...]:
    """Findings about need, choice, sides to avoid and gaps too small for a screw."""
    found = [_choice(advice, profile)]
    if not advice.scenarios_agree:
        found.append(_disagree(advice))
    if advice.too_tight and advice.too_tight[0][2] >= profile.blocking_screw_worth_deg:
        found.append(_tight(advice))
    if advice.making_worse:
        found.append(_worse(advice))
    planned = {(s.fragment, s.side) for s in plan.blocking_screws}
    offered = advice.offered
    if offered is not None and planned != {(s.fragment, s.side) for s in offered.screws}:
        found.append(_differs(advice, plan, offered))
    return tuple(found)


def _choice(advice: BlockingAdvice, profile: Profile) -> Finding:
    limit = profile.drift_limit_deg
    within = advice.smallest_within
    words = f"Blocking screws for the {advice.bone}: without any, up to {advice.none.worst_deg:.1f} deg"
    words += _together(advice.none)
    for layout in advice.best:
        if layout.bought_deg < SEEN_DEG:
            continue
        words += (
            f"; best {layout.count}: {said_layout(layout)}, up to {layout.worst_deg:.1f} deg "
            f"(buys {layout.bought_deg:.1f}, step {layout.step_mm:.1f} mm"
        )
        if layout.misplaced_deg is not None:
            words += f", 1 mm off costs {layout.misplaced_deg:.1f}"
        words += ")"
    if within is None:
        words += f". None of them keeps the worst case inside {limit:g} deg."
        severity = Severity.CAUTION
    elif within.count == 0:
        words += f". None is needed to stay inside {limit:g} deg."
        severity = Severity.NOTE
    else:
        words += (
            f". {within.count} keep{'s' if within.count == 1 else ''} the worst case inside {limit:g} deg."
        )
        severity = Severity.NOTE
    return Finding(
        id="blocking-screw-choice",
        severity=severity,
        words=words,
        next_step="Choose with the gaps on the image intensifier in view; the numbers are a model's."
        if within is not None
        else "Consider a thicker nail, another level or less lengthening, and watch the course closely.",
        numbers=tuple(
            Number(name=f"worst angulation with {x.count} screws", value=x.worst_deg, unit="deg")
            for x in (advice.none, *advice.best)
        ),
        rule=f"The fewest screws that keep the drift inside {limit:g} deg are offered.",
        source=rule_source(profile, "drift_limit_deg"),
    )


def _together(layout: LayoutOffered) -> str:
    if layout.together is None or layout.oblique_deg is None:
        return ""
    return (
        f" (expected, both planes together: {said_deg(layout.together.varus_deg, Plane.FRONTAL)}, "
        f"{said_deg(layout.together.procurvatum_deg, Plane.SAGITTAL)})"
    )


def _disagree(advice: BlockingAdvice) -> Finding:
    sides = "; ".join(
        f"{name}: {said_layout(layout)}"
        for name, layout in zip(advice.scenarios, advice.best_by_scenario, strict=True)
    )
    return Finding(
        id="pull-direction-uncertain",
        severity=Severity.CAUTION,
        words=f"Which way the soft tissue pulls the {advice.bone} is uncertain, and the answer decides the "
        f"screws: {sides}. Nothing is picked.",
        next_step="Judge the muscles and the first films, or block both sides.",
        rule="Where the scenarios ask for different sides the choice is the surgeon's.",
        source=MODEL,
    )


def _tight(advice: BlockingAdvice) -> Finding:
    why, screw, gain = advice.too_tight[0]
    return Finding(
        id="gap-too-small-for-a-screw",
        severity=Severity.NOTE,
        words=f"A blocking screw {said_screw(screw)} of the {advice.bone} cannot stand there ({why}), "
        f"yet the play it leaves costs {gain:.1f} deg.",
        next_step="A thinner screw, a thicker nail or a shifted nail line would take it away.",
        numbers=(Number(name="angulation such a screw would save", value=gain, unit="deg"),),
        rule="A gap too small for a screw can still cost a degree.",
        source=MODEL,
    )


def _worse(advice: BlockingAdvice) -> Finding:
    worst = advice.making_worse[0]
    return Finding(
        id="blocking-screw-makes-worse",
        severity=Severity.CAUTION,
        words=f"Some layouts would make the {advice.bone} drift more than no screw does: "
        f"{said_layout(worst)}, up to {worst.worst_deg:.1f} deg instead of {advice.none.worst_deg:.1f}.",
        next_step="Keep blocking screws near the cut and on the sides that are offered.",
        numbers=(
            Number(name="worst angulation with it", value=worst.worst_deg, unit="deg"),
            Number(name="worst angulation without screws", value=advice.none.worst_deg, unit="deg"),
        ),
        rule="A screw far from the cut can become the pivot about which the fragment turns.",
        source=MODEL,
    )


def _differs(advice: BlockingAdvice, plan: BonePlan, offered: LayoutOffered) -> Finding:
    now = "; ".join(said_screw(s) for s in plan.blocking_screws) or "no screw"
    return Finding(
        id="blocking-screws-differ-from-computed",
        severity=Severity.NOTE,
        words=f"The plan of the {advice.bone} has {now}; the computation offers {said_layout(offered)} "
        "as the smallest layout inside the limit.",
        next_step="Compare both in the table of layouts, and take over what convinces you.",
        rule="The planner's rule looks at gaps, the computation at the elastic nail under load.",
        source=MODEL,
    )
