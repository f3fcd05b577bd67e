"""`limbwright measure CASE`: both legs, their difference, the normal ranges."""

from pathlib import Path

import click

from limbwright.case.measured import MeasuredCase, measured_case
from limbwright.case.situation import deformities
from limbwright.case.space import spatial_deformities
from limbwright.cli import load, options, show
from limbwright.finding import Finding, ordered
from limbwright.interop.plain import measured_case_plain
from limbwright.interop.plain_deformity import deformities_plain, spatial_plain
from limbwright.limb.reading import Measure
from limbwright.quantity import LONGER_SHORTER, Measured, directed
from limbwright.report import words
from limbwright.report.context import Table
from limbwright.report.plan_tables import apex_table, space_table


@click.command("measure")
@options.case
@options.profile
@options.as_json
def command(case: Path, profile: Path | None, json_: bool) -> None:
    """Measure both legs of CASE: joint angles, axes, lengths, discrepancy."""
    subject = load.case_at(case)
    stated, header_findings = load.headers_of(subject, case)
    result = measured_case(subject, load.profile_at(profile), stated=stated)
    findings = ordered((*result.findings, *header_findings))
    seen = deformities(result)
    space = spatial_deformities(result, seen)
    findings = ordered((*findings, *(f for bone in seen for f in bone.findings())))
    if json_:
        show.as_json(
            {
                "case": subject.id,
                **measured_case_plain(result, findings),
                "deformities": deformities_plain(seen),
                "deformities_in_space": spatial_plain(space),
            }
        )
    else:
        _print(result, findings, (apex_table(seen), space_table(space)))
    show.exit_for(findings)


def _print(result: MeasuredCase, findings: tuple[Finding, ...], deformity_tables: tuple[Table, ...]) -> None:
    treated, other = result.treated, result.other
    known = {m: (treated.get(m), other.get(m) if other else None) for m in Measure}
    rows = []
    for measure, (mine, theirs) in known.items():
        if mine is None and theirs is None:
            continue
        either = mine or theirs
        assert either is not None
        deviation = None if mine is None else mine.deviation()
        out = "" if deviation is None or deviation.magnitude == 0 else f"{words.said(deviation)}"
        template = result.templates.get(measure)
        rows.append(
            (
                measure.value,
                words.reading(mine),
                out,
                words.reading(theirs),
                words.norm_range(either.norm, either.value.unit),
                "" if template is None else f"{template.value:.1f} ({template.origin})",
            )
        )
    show.table(
        f"{result.side} leg (treated) at {result.age_years:.1f} years, values ± 95 %",
        ("", "treated leg", "out of range by", "other leg", "normal", "template"),
        rows,
        right=(1, 2, 3, 4),
    )
    if result.difference is not None:
        d = result.difference
        parts = (
            ("total", d.total),
            ("femur", d.femur),
            ("tibia", d.tibia),
            ("foot", d.foot),
            ("joint space and bending", d.rest),
            ("knee height", d.knee_height),
        )
        show.table(
            "Treated leg against the other",
            ("", "difference ± 95 %"),
            [(name, _difference(value)) for name, value in parts if value is not None],
            right=(1,),
        )
    for table in deformity_tables:
        if table.rows:
            show.table(table.title, table.header, table.rows)
    missing = treated.all_not_measured()
    if missing:
        show.table(
            "Not measured on the treated leg", ("", "why"), [(n.measure.value, n.reason) for n in missing]
        )
    show.findings(findings)
    show.caution()


def _difference(value: Measured) -> str:
    return words.measured(value, directed(value.value, unit="mm", senses=LONGER_SHORTER))
