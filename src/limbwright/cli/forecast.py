"""`limbwright forecast CASE`: how far each bone drifts, and which blocking screws earn their place."""

from pathlib import Path

import click

from limbwright.case.candidates import case_uncertainty
from limbwright.case.forecast import BoneAhead, CaseAhead, case_ahead
from limbwright.case.planned import planned_case
from limbwright.cli import load, options, show
from limbwright.finding import Finding, ordered
from limbwright.interop.plain_candidates import uncertainty_plain
from limbwright.interop.plain_forecast import case_ahead_plain
from limbwright.mechanics import Plane
from limbwright.plan.forecast.drift_course import MomentOfCourse
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED, said_band, said_deg
from limbwright.plan.forecast.screw_finding import said_layout
from limbwright.plan.forecast.screw_values import LayoutOffered
from limbwright.plan.stage import StageName
from limbwright.plan.uncertainty.values import PlanUncertainty, told
from limbwright.report import words


@click.command("forecast")
@options.case
@options.profile
@options.catalogue
@options.as_json
def command(case: Path, profile: Path | None, catalogue: Path | None, *, json_: bool) -> None:
    """Forecast the drift of every lengthened bone of CASE, and how sure its end is.

    The model is not validated clinically.
    """
    with show.progress("Planning and looking ahead"):
        subject = load.case_at(case)
        stated, header_findings = load.headers_of(subject, case)
        numbers = load.profile_at(profile)
        nails = load.catalogue_at(catalogue)
        planned = planned_case(subject, numbers, nails, stated=stated)
        ahead = case_ahead(subject, planned, numbers)
        sure = case_uncertainty(subject, planned, ahead, numbers) if ahead.bones else None
    own = ahead.findings if ahead.bones else planned.findings
    findings = ordered((*own, *(sure.findings if sure is not None else ()), *header_findings))
    if json_:
        show.as_json(
            {
                "case": subject.id,
                **case_ahead_plain(ahead, findings),
                "uncertainty": None if sure is None else uncertainty_plain(sure),
            }
        )
    else:
        print_ahead(ahead, findings, sure)
    show.exit_for(findings)


def print_ahead(ahead: CaseAhead, findings: tuple[Finding, ...], sure: PlanUncertainty | None = None) -> None:
    """The forecast on the terminal: drift by length, screws, the leg with drift, how sure, findings."""
    if not ahead.bones:
        show.console().print("No bone is lengthened by this plan, so there is nothing to foretell.\n")
    for bone in ahead.bones:
        _print_course(bone)
        _print_layouts(bone)
        if bone.recipes:
            show.table(f"{bone.bone}: blocking screws of the plan", ("",), [(r.words,) for r in bone.recipes])
        if bone.steering:
            show.table(
                f"{bone.bone}: what the nail's play may leave of the deformity at the operation",
                ("", "without screws", "with the planned screws"),
                [
                    (
                        s.plane.value,
                        said_deg(s.residual_bare_deg, s.plane),
                        said_deg(s.residual_held_deg, s.plane),
                    )
                    for s in bone.steering
                ],
            )
    _print_outlook(ahead)
    if sure is not None:
        print_uncertainty(sure)
    show.findings(findings)
    show.console().print(NOT_VALIDATED, markup=False)
    show.caution()


def _print_course(bone: BoneAhead) -> None:
    planned, bare = bone.forecast.planned, bone.forecast.without_screws
    screws = len(bone.forecast.modelled.construct.blocking_screws)
    show.table(
        f"{bone.bone}: drift while it lengthens ({screws} planned blocking screw{'' if screws == 1 else 's'}"
        "; nine in ten in brackets)",
        ("day", "gained", "frontal", "sagittal", "own plane", "without: frontal", "sagittal", "nail stress"),
        [
            (
                f"{m.day:.0f}",
                f"{m.lengthening_mm:.0f} mm",
                _said(m, Plane.FRONTAL),
                _said(m, Plane.SAGITTAL),
                "–" if m.oblique_deg is None else f"{m.oblique_deg:.1f} deg",
                said_deg(b.frontal.angulation_deg, Plane.FRONTAL),
                said_deg(b.sagittal.angulation_deg, Plane.SAGITTAL),
                f"{m.peak_stress_mpa:.0f} MPa",
            )
            for m, b in zip(planned.moments, bare.moments, strict=True)
        ],
        right=(0, 1, 4, 7),
    )


def _said(moment: MomentOfCourse, plane: Plane) -> str:
    found = moment.in_plane(plane)
    if found.angulation_deg is None:
        return "no number" if found.play is None else f"within play: {said_band(found.play, plane)}"
    shown = said_deg(found.angulation_deg, plane)
    return shown if found.band is None else f"{shown} ({said_band(found.band, plane)})"


def _print_layouts(bone: BoneAhead) -> None:
    advice = bone.screws

    def row(name: str, layout: LayoutOffered) -> tuple[str, ...]:
        return (
            name,
            said_layout(layout),
            f"{layout.worst_deg:.1f}",
            f"{layout.expected_deg:.1f}",
            "–" if layout.oblique_deg is None else f"{layout.oblique_deg:.1f}",
            f"{layout.step_mm:.1f}",
            f"{layout.shift_mm:.1f}",
            "–" if layout.misplaced_deg is None else f"{layout.misplaced_deg:.1f}",
            "; ".join(layout.near),
        )

    rows = [row("none", advice.none)]
    rows += [row(f"best {x.count}", x) for x in advice.best]
    rows += [row("as good", x) for x in advice.runners_up[:3]]
    rows += [row("worse than none", x) for x in advice.making_worse[:2]]
    show.table(
        f"{bone.bone}: layouts of blocking screws ({', '.join(advice.scenarios)})",
        (
            "",
            "screws",
            "worst deg",
            "expected deg",
            "both planes deg",
            "step mm",
            "shift at joint mm",
            "1 mm off deg",
            "mind",
        ),
        rows,
        right=(2, 3, 4, 5, 6, 7),
    )


def _print_outlook(ahead: CaseAhead) -> None:
    geometric = ahead.planned.outlook
    if ahead.outlook is None or geometric is None:
        return
    plain, drifted = (o.stage(StageName.FULL_LENGTH) for o in (geometric, ahead.outlook))
    rows = []
    for reading in plain.frontal_readings.values + (
        plain.sagittal_readings.values if plain.sagittal_readings else ()
    ):
        moved = drifted.frontal_readings.get(reading.measure) or (
            drifted.sagittal_readings.get(reading.measure) if drifted.sagittal_readings else None
        )
        rows.append(
            (
                reading.measure.value,
                words.said(reading.shown()),
                "–" if moved is None else words.said(moved.shown()),
                words.norm_range(reading.norm, reading.value.unit),
            )
        )
    show.table(
        "At full length", ("", "geometry alone", "with the forecast drift", "normal"), rows, right=(1, 2, 3)
    )


def print_uncertainty(sure: PlanUncertainty) -> None:
    """How sure the end is: distribution, probability of each tolerance, and what each spread comes from."""
    kept = {c.name: c for c in sure.criteria}
    rows = []
    for name, found in sure.results.items():
        value = dict(zip(found.probability, found.value, strict=True))
        criterion = kept.get(name)
        rows.append(
            (
                name,
                words.fine(told(name, value[0.5])),
                f"{words.fine(told(name, value[0.05]))} to {words.fine(told(name, value[0.95]))}",
                "–"
                if criterion is None
                else f"{criterion.tolerance:g} of {words.fine(told(name, criterion.target))}",
                "–" if criterion is None else f"{100 * criterion.probability:.0f} of 100",
                words.matters(sure, name),
            )
        )
    show.table(
        f"How sure the end is: inside all tolerances in {100 * sure.inside_all:.0f} of 100 "
        f"({sure.draws:,} draws)",
        ("at full length", "median", "nine in ten", "tolerance", "inside", "comes from"),
        rows,
        right=(1, 2, 3, 4),
    )
