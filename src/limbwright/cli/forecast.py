"""`limbwright forecast CASE`: how far each bone drifts, and which blocking screws earn their place."""

from pathlib import Path

import click

from limbwright.case.forecast import BoneAhead, CaseAhead, case_ahead, case_candidates
from limbwright.case.planned import planned_case
from limbwright.cli import load, options, show
from limbwright.finding import Finding, ordered
from limbwright.interop.plain_forecast import case_ahead_plain, search_plain
from limbwright.mechanics import Plane
from limbwright.plan.forecast.drift_course import MomentOfCourse
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED, said_band, said_deg
from limbwright.plan.forecast.screw_finding import said_layout
from limbwright.plan.forecast.screw_values import LayoutOffered
from limbwright.plan.search.search import SearchResult
from limbwright.plan.stage import StageName
from limbwright.quantity import ANTERIOR_POSTERIOR, LATERAL_MEDIAL, Sense, directed
from limbwright.report import words


@click.command("forecast")
@options.case
@options.profile
@options.catalogue
@options.as_json
@click.option("--candidates", is_flag=True, help="Search other plans and show at most six of each bone.")
def command(
    case: Path, profile: Path | None, catalogue: Path | None, *, json_: bool, candidates: bool
) -> None:
    """Forecast the drift of every lengthened bone of CASE. The model is not validated clinically."""
    with show.progress("Planning and looking ahead"):
        subject = load.case_at(case)
        stated, header_findings = load.headers_of(subject, case)
        numbers = load.profile_at(profile)
        nails = load.catalogue_at(catalogue)
        planned = planned_case(subject, numbers, nails, stated=stated)
        ahead = case_ahead(subject, planned, numbers)
        searched = case_candidates(subject, planned, numbers, nails) if candidates else ()
    own = ahead.findings if ahead.bones else planned.findings
    findings = ordered((*own, *header_findings))
    if json_:
        show.as_json(
            {
                "case": subject.id,
                **case_ahead_plain(ahead, findings),
                "candidates": [search_plain(s) for s in searched],
            }
        )
    else:
        for result in searched:
            _print_candidates(result)
        print_ahead(ahead, findings)
    show.exit_for(findings)


def print_ahead(ahead: CaseAhead, findings: tuple[Finding, ...]) -> None:
    """The forecast on the terminal: drift by length, screws, the leg with drift, findings."""
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


def _print_candidates(result: SearchResult) -> None:
    show.table(
        f"{result.bone}: plans that are worth comparing ({result.considered:,} geometric candidates, "
        f"{result.feasible:,} within all limits)",
        ("nail", "cut below joint", "gain", "nail line", "drift", "screws", "inside tolerance", ""),
        [
            (
                c.plan.nail.name,
                f"{c.plan.osteotomy.below_joint_mm:.0f} mm",
                f"{c.plan.lengthening_mm:.0f} mm",
                _line(c.lateral_mm, c.anterior_mm),
                f"{c.parts.drift_deg:.1f} deg",
                f"{c.parts.screws}",
                "–" if c.probability is None else f"{100 * c.probability:.0f} %",
                c.words,
            )
            for c in result.candidates
        ],
        right=(1, 2, 4, 5, 6),
    )


def _line(lateral_mm: float, anterior_mm: float) -> str:
    """Offset of the nail's line from the best fit, in words."""
    said = [
        f"{way.magnitude:.1f} mm {way.direction}"
        for way in (
            directed(lateral_mm, unit="mm", senses=LATERAL_MEDIAL),
            directed(anterior_mm, unit="mm", senses=ANTERIOR_POSTERIOR),
        )
        if way.direction is not Sense.NONE
    ]
    return ", ".join(said) or "best fit"
