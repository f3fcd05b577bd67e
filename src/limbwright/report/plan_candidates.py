"""The plans worth comparing, and how sure the end of the plan is, as the operation plan prints them."""

from limbwright.case.candidates import CaseCandidates
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED
from limbwright.plan.search.candidate import BoneCandidate
from limbwright.plan.uncertainty.values import Criterion, PlanUncertainty, told
from limbwright.report import words
from limbwright.report.context import Bar, Sureness, SureRow, Table

MOST_AGAIN = 4


def comparison_table(found: CaseCandidates) -> Table:
    """The plan in force and the candidates beside it, each with what it buys and costs."""
    everyone = (found.reference, *found.candidates)
    return Table(
        title="Plans worth comparing",
        header=("", "osteotomy, nail, screws", "ends inside", "what it buys and costs"),
        widths=("auto", "fill", "auto", "fill"),
        rows=tuple(
            (
                f"candidate {number}" if number else "this plan",
                "\n".join(_bone(b, named=len(c.leg.bones) > 1) for b in c.leg.bones),
                f"{100 * c.probability:.0f} of 100",
                c.leg.words,
            )
            for number, c in enumerate(everyone)
        ),
        note="Ends inside: draws in which angles, axis, drift and length all end inside tolerance. "
        "Turned: what the nail's lines correct beyond the aim, to meet the forecast drift. "
        f"{_searched(found)} {NOT_VALIDATED}",
    )


def _searched(found: CaseCandidates) -> str:
    text = (
        f"Space searched: {words.count(found.considered)} geometric candidates, "
        f"{words.count(found.feasible)} within all limits, {found.evaluated} worked out exactly."
    )
    return text if found.candidates else f"{text} None of them buys anything against this plan."


def _bone(bone: BoneCandidate, *, named: bool) -> str:
    plan, count = bone.plan, len(bone.plan.blocking_screws)
    who = f"{plan.bone}: " if named else ""
    turned = bone.line.turn_words()
    return (
        f"{who}cut {plan.osteotomy.below_joint_mm:.0f} mm below the joint, nail {plan.nail.name}, "
        f"{plan.lengthening_mm:.0f} mm, {count or 'no'} blocking screw{'' if count == 1 else 's'}, "
        f"{bone.overlap_mm:.0f} mm overlap" + (f", {turned}" if turned else "")
    )


def sureness(sure: PlanUncertainty) -> Sureness:
    """Distribution of what the plan ends at, against its tolerances, and what is worth measuring again."""
    kept = {c.name: c for c in sure.criteria}
    least = sure.least_sure.name if sure.criteria else ""
    again = [
        f"{m.name} ({100 * m.total:.0f} % of the spread of {m.result})"
        for name in sorted(sure.results, key=lambda n: n != least)
        for m in sure.worth_measuring(name)
    ]
    return Sureness(
        title=f"How sure the end is: inside all tolerances in {100 * sure.inside_all:.0f} of 100 draws",
        rows=tuple(_row(sure, name, kept.get(name)) for name in sure.results),
        again=("Worth measuring again: " + "; ".join(again[:MOST_AGAIN]) + ".")
        if again
        else "No single mark, scale or traced wall explains a tenth of any spread.",
        note=f"{sure.draws:,} quasi-random draws of marks, scale, walls, execution and tissue. "
        f"{NOT_VALIDATED}",
    )


def _row(sure: PlanUncertainty, name: str, criterion: Criterion | None) -> SureRow:
    found = sure.results[name]
    value = dict(zip(found.probability, found.value, strict=True))
    low, middle, high = (value[p] for p in (0.05, 0.5, 0.95))
    return SureRow(
        name=name,
        middle=words.fine(told(name, middle)),
        band=f"{words.fine(told(name, low))} to {words.fine(told(name, high))}",
        tolerance="–"
        if criterion is None
        else f"{words.fine(told(name, criterion.target))} ± {criterion.tolerance:g}",
        inside="–" if criterion is None else f"{100 * criterion.probability:.0f} of 100",
        comes_from=words.matters(sure, name),
        bar=None if criterion is None else _bar((low, middle, high), criterion),
    )


def _bar(band: tuple[float, float, float], criterion: Criterion) -> Bar:
    low, middle, high = band
    edges = criterion.target - criterion.tolerance, criterion.target + criterion.tolerance
    room = criterion.tolerance
    return Bar(
        low=min(edges[0] - room, low),
        high=max(edges[1] + room, high),
        normal_low=edges[0],
        normal_high=edges[1],
        value=middle,
        half=(high - low) / 2,
        outside=not edges[0] <= middle <= edges[1],
    )
