"""`limbwright plan CASE`: which bone, where to cut, which nail, which screws, and what comes of it."""

from collections.abc import Mapping
from pathlib import Path

import click

from limbwright.case.candidates import CaseCandidates, Keep, case_candidates
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli import load, options, show
from limbwright.finding import Finding, ordered
from limbwright.interop.plain_candidates import candidates_plain
from limbwright.interop.plain_plan import planned_case_plain
from limbwright.limb.anatomy import Bone
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED
from limbwright.plan.search.candidate import described
from limbwright.plan.stage import StageName
from limbwright.quantity import LONGER_SHORTER, directed
from limbwright.report import words
from limbwright.report.plan_page import headline


@click.command("plan")
@options.case
@options.profile
@options.catalogue
@options.candidates
@options.hold
@options.as_json
def command(
    case: Path,
    profile: Path | None,
    catalogue: Path | None,
    *,
    candidates: bool,
    hold: tuple[str, ...],
    json_: bool,
) -> None:
    """Plan the operation of CASE: everything weighed on the way, and the plans worth comparing with it."""
    with show.progress("Planning"):
        subject = load.case_at(case)
        stated, header_findings = load.headers_of(subject, case)
        numbers, nails = load.profile_at(profile), load.catalogue_at(catalogue)
        planned = planned_case(subject, numbers, nails, stated=stated)
    found = None
    if candidates:
        with show.progress("Searching other plans"):
            found = case_candidates(subject, planned, numbers, nails, keep=kept(planned, hold))
    findings = ordered((*planned.findings, *header_findings))
    if json_:
        compared = (
            {"candidates": candidates_plain(found, subject, planned, numbers, nails)} if candidates else {}
        )
        show.as_json({"case": subject.id, **planned_case_plain(planned, findings), **compared})
    else:
        print_plan(planned, findings, found)
    show.exit_for(findings)


def kept(planned: PlannedCase, hold: tuple[str, ...]) -> Mapping[Bone, Keep]:
    """What is kept of the plan of every bone while the rest is searched."""
    keep = Keep(**dict.fromkeys(hold, True))
    return {} if planned.plan is None else {bone.bone: keep for bone in planned.plan.bones}


def print_plan(
    planned: PlannedCase, findings: tuple[Finding, ...], found: CaseCandidates | None = None
) -> None:
    """The plan on the terminal: what, why, result, the plans worth comparing with it, steps, findings."""
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
    if found is not None:
        print_candidates(found)
    if planned.plan is not None:
        show.table("Steps", ("",), [(step,) for step in planned.plan.steps])
    show.findings(findings)
    show.caution()


def print_candidates(found: CaseCandidates) -> None:
    """The plan in force and the candidates beside it, with what each buys and costs."""
    for number, candidate in enumerate((found.reference, *found.candidates)):
        name = f"Candidate {number}" if number else "As planned"
        parts = candidate.leg.parts
        show.table(
            f"{name}: ends inside all tolerances in {100 * candidate.probability:.0f} of 100 draws",
            ("", "nail", "cut below joint", "gain", "screws", "overlap", "nail line"),
            [
                (
                    b.bone.value,
                    b.plan.nail.name,
                    f"{b.plan.osteotomy.below_joint_mm:.0f} mm",
                    f"{b.plan.lengthening_mm:.0f} mm",
                    f"{len(b.plan.blocking_screws)}",
                    f"{b.overlap_mm:.0f} mm",
                    b.line.words(),
                )
                for b in candidate.leg.bones
            ],
            right=(2, 3, 4, 5),
        )
        out = show.console()
        out.print(f"  {candidate.leg.words}", markup=False)
        if number:
            out.print(f"  {described(parts)}", markup=False)
        least = candidate.least_sure
        if least is not None:
            out.print(f"  Least sure: {least.name}, {100 * least.probability:.0f} of 100.", markup=False)
        out.print()
    show.console().print(
        f"Space searched: {words.count(found.considered)} geometric candidates, "
        f"{words.count(found.feasible)} within all limits, {found.evaluated} worked out exactly. "
        f"{NOT_VALIDATED}\n",
        markup=False,
    )


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
