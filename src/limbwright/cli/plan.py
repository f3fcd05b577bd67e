"""`limbwright plan CASE`: which bone, where to cut, which nail, which screws, and what comes of it."""

from pathlib import Path

import click

from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli import load, options, show
from limbwright.finding import Finding, ordered
from limbwright.interop.plain_plan import planned_case_plain
from limbwright.plan.stage import StageName
from limbwright.quantity import LONGER_SHORTER, directed
from limbwright.report import words
from limbwright.report.plan_page import headline


@click.command("plan")
@options.case
@options.profile
@options.catalogue
@options.as_json
def command(case: Path, profile: Path | None, catalogue: Path | None, json_: bool) -> None:
    """Plan the operation of CASE, with everything weighed on the way."""
    with show.progress("Planning"):
        subject = load.case_at(case)
        stated, header_findings = load.headers_of(subject, case)
        planned = planned_case(subject, load.profile_at(profile), load.catalogue_at(catalogue), stated=stated)
    findings = ordered((*planned.findings, *header_findings))
    if json_:
        show.as_json({"case": subject.id, **planned_case_plain(planned, findings)})
    else:
        print_plan(planned, findings)
    show.exit_for(findings)


def print_plan(planned: PlannedCase, findings: tuple[Finding, ...]) -> None:
    """The plan on the terminal: what, why, result, steps, findings."""
    show.console().print(headline(planned), style="bold", markup=False)
    show.console().print(planned.choice.reason + "\n", markup=False)
    _print_strategies(planned)
    for proposal in planned.proposals:
        show.table(f"How the plan of the {proposal.bone} came about", ("",), [(r,) for r in proposal.reasons])
    for done in planned.completed:
        rows = [
            (
                mark.what,
                f"{mark.from_proximal_mm:.0f} mm",
                f"{mark.from_distal_mm:.0f} mm",
                "" if mark.offset_mm is None else f"{mark.offset_mm:.1f} mm {mark.offset_side}",
            )
            for mark in done.marks
        ]
        first = done.marks[0]
        show.table(
            f"{done.plan.bone}: found under fluoroscopy, corrected and not yet lengthened",
            ("", f"from {first.proximal_reference}", f"from {first.distal_reference}", "from nail centre"),
            rows,
            right=(1, 2),
        )
    _print_outlook(planned)
    if planned.plan is not None:
        show.table("Steps", ("",), [(step,) for step in planned.plan.steps])
    show.findings(findings)
    show.caution()


def _print_strategies(planned: PlannedCase) -> None:
    show.table(
        "Which bone",
        ("", "gain", "left over", "knee", "burden", "healed about day"),
        [
            (
                f"{s.name}{' (chosen)' if s == planned.choice.recommended else ''}",
                ", ".join(f"{bone} {s.lengthening_mm(bone):.0f} mm" for bone in s.bones()),
                words.said(s.residual),
                words.said(s.knee_height),
                f"{s.burden_index:.2f}",
                f"{s.healed_typical_day:.0f}",
            )
            for s in planned.choice.strategies
        ],
        right=(4, 5),
    )


def _print_outlook(planned: PlannedCase) -> None:
    if planned.outlook is None:
        return
    stages = planned.outlook.stages
    rows = []
    for reading in stages[0].frontal_readings.values + (
        stages[0].sagittal_readings.values if stages[0].sagittal_readings else ()
    ):
        found = []
        for stage in stages:
            held = stage.frontal_readings.get(reading.measure) or (
                stage.sagittal_readings.get(reading.measure) if stage.sagittal_readings else None
            )
            found.append("–" if held is None else words.said(held.shown()))
        rows.append((reading.measure.value, *found, words.norm_range(reading.norm, reading.value.unit)))
    totals = [s.discrepancy.total for s in stages if s.discrepancy is not None]
    if len(totals) == len(stages) and all(t is not None for t in totals):
        shown = [
            words.said(directed(t.value, unit="mm", senses=LONGER_SHORTER, zero_below=0.5))
            for t in totals
            if t is not None
        ]
        rows.append(("length against the other leg", *shown, ""))
    show.table(
        "What comes of it (geometry, without drift)",
        ("", *(name.value for name in StageName), "normal"),
        rows,
        right=(1, 2, 3, 4),
    )
