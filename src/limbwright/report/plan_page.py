"""The operation plan as a page: every text and number the template prints, taken from a planned case."""

from collections.abc import Mapping
from datetime import date

from limbwright.case.candidates import CaseCandidates
from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.case.forecast import CaseAhead
from limbwright.case.planned import PlannedCase
from limbwright.course.schedule import Day
from limbwright.finding import Finding, Severity, ordered
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection
from limbwright.limb.reading import Measure, Reading
from limbwright.plan.stage import CutFaces, StageName
from limbwright.plan.uncertainty.values import PlanUncertainty
from limbwright.practice.profile import Profile
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, directed
from limbwright.report import words
from limbwright.report.context import (
    Bar,
    Figure,
    MeasurementRow,
    Measurements,
    OperationPlanPage,
    finding_line,
)
from limbwright.report.plan_candidates import comparison_table, sureness
from limbwright.report.plan_cards import bone_cards, course_card, result_card
from limbwright.report.plan_tables import plan_tables

WALL_FIGURES = {Projection.FRONTAL: "wall-frontal.svg", Projection.SAGITTAL: "wall-sagittal.svg"}
WHOLE_FIGURES = {Projection.FRONTAL: "whole-frontal.svg", Projection.SAGITTAL: "whole-sagittal.svg"}
SHOWN_ALERTS = 4


def operation_plan_page(
    case: Case,
    planned: PlannedCase,
    profile: Profile,
    *,
    schedules: tuple[tuple[Day, ...], ...],
    printed_on: date,
    films_shown: bool,
    ahead: CaseAhead | None = None,
    found: CaseCandidates | None = None,
    sure: PlanUncertainty | None = None,
) -> OperationPlanPage:
    """Texts and numbers of the printed operation plan.

    Parameters
    ----------
    case, planned : Case, PlannedCase
        The case and everything worked out about it.
    profile : Profile
        For the list of settings that differ from our defaults.
    schedules : tuple of tuple of Day
        One per prescription of `planned`.
    printed_on : date
        Day of printing.
    films_shown : bool
        Whether the figures lie on the films or on an empty ground.
    ahead : CaseAhead, optional
        Forecast of drift; left out where there is none.
    found : CaseCandidates, optional
        Plans worth comparing; left out where they were not searched.
    sure : PlanUncertainty, optional
        How sure the end is; left out where it was not asked.
    """
    more = (*(() if ahead is None else ahead.findings), *(() if sure is None else sure.findings))
    findings = _once((*planned.findings, *more)) if more else planned.findings
    alerts = [f for f in findings if f.severity is not Severity.NOTE]
    return OperationPlanPage(
        title=f"Operation plan, case {case.id}",
        header_right=f"{case.side} leg · printed {printed_on:%d %b %Y}",
        caution=CAUTION,
        headline=headline(planned),
        subline=subline(case, planned),
        invented=case.invented,
        alerts=tuple(finding_line(f) for f in alerts[:SHOWN_ALERTS]),
        more_alerts=max(0, len(alerts) - SHOWN_ALERTS),
        wall_figures=_figures(planned, WALL_FIGURES, films_shown=films_shown),
        big=(*bone_cards(planned), result_card(planned), course_card(planned, schedules)),
        key_steps=_key_steps(planned),
        figures=_figures(planned, WHOLE_FIGURES, films_shown=films_shown),
        forecast_figures=() if ahead is None else forecast_figures(ahead),
        comparison=None if found is None else comparison_table(found),
        sureness=None if sure is None else sureness(sure),
        measurements=_measurements(planned),
        tables=plan_tables(case, planned, profile, schedules),
        steps=tuple(step.words for step in planned.steps),
        findings=tuple(finding_line(f) for f in findings),
        sources=_sources(findings),
    )


def headline(planned: PlannedCase) -> str:
    """What is done to which bone, in one line."""
    if planned.plan is None:
        return f"{planned.measured.side.value.title()} leg: no plan yet"
    parts = []
    for bone in planned.plan.bones:
        faces = [f for f in (planned.outlook.cut_faces if planned.outlook else ()) if f.bone is bone.bone]
        what = f"lengthen {bone.lengthening_mm:.0f} mm" if bone.lengthening_mm else "no lengthening"
        turned = [f"correct {turn}" for face in faces if (turn := _turned(face))]
        if bone.second is not None:
            turned = ["cut twice", " and ".join(turned)] if turned else ["cut twice"]
        parts.append(", ".join([f"{bone.bone} {what}", *turned]))
    return f"{planned.measured.side.value.title()} leg: {'; '.join(parts)}"


def _turned(face: CutFaces) -> str:
    """What is taken out at one osteotomy, in words; empty below a degree."""
    return " and ".join(
        words.said(directed(-value, unit="deg", senses=senses))
        for value, senses in (
            (face.varus_deg, VARUS_VALGUS),
            (face.procurvatum_deg, PROCURVATUM_RECURVATUM),
        )
        if abs(value) >= 1.0
    )


def subline(case: Case, planned: PlannedCase) -> str:
    """Who, in a few words, and why."""
    age = planned.measured.age_years
    female = case.patient.sex is Sex.FEMALE
    who = ("woman" if female else "man") if age >= 18 else ("girl" if female else "boy")
    return f"case {case.id} · {who}, {age:.1f} years · {case.diagnosis or 'no diagnosis given'}"


def _figures(
    planned: PlannedCase, files: Mapping[Projection, str], *, films_shown: bool
) -> tuple[Figure, ...]:
    if planned.plan is None:
        return ()
    ground = "film cut at the osteotomy and moved" if films_shown else "no film image at hand"
    caption = (
        f"One scale, knee level; {ground}. Ochre: read on the film. Teal: planned. "
        "Soft tissue is moved with its fragment and only drawn."
    )
    shown = [Projection.FRONTAL, *([Projection.SAGITTAL] if planned.leg.has_sagittal else [])]
    return tuple(
        Figure(
            file=files[projection],
            title=f"As it stands, corrected, and at full length: {projection}",
            caption=caption if projection is shown[-1] else "",
        )
        for projection in shown
    )


def forecast_figures(ahead: CaseAhead) -> tuple[Figure, ...]:
    """Two figures for every lengthened bone: its drift, and where its nail touches the canal."""
    return tuple(
        figure
        for bone in ahead.bones
        for figure in (
            Figure(
                file=f"drift-{bone.bone}.svg",
                title=f"Forecast of drift while the {bone.bone} lengthens",
                caption="Bands hold nine in ten draws of what is not known. A mechanical model without "
                "clinical validation; watch alignment on every film.",
            ),
            Figure(
                file=f"contact-{bone.bone}.svg",
                title=f"Nail in the canal of the {bone.bone}",
                caption="At the first millimetre, half way and at full length.",
            ),
        )
    )


def _once(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return ordered(tuple({(f.id, f.words): f for f in findings}.values()))


def _key_steps(planned: PlannedCase) -> tuple[str, ...]:
    """The steps without the numbers that stand in the cards already, for the wall."""
    names: dict[str, None] = {}
    several = planned.plan is not None and len(planned.plan.bones) > 1
    for step in planned.steps:
        names[f"{step.bone}: {step.name}" if several else step.name[0].upper() + step.name[1:]] = None
    return tuple(names)


def _measurements(planned: PlannedCase) -> Measurements:
    measured = planned.measured
    end = planned.outlook.stage(StageName.FULL_LENGTH) if planned.outlook else None
    rows = []
    for measure in Measure:
        mine = measured.treated.get(measure)
        theirs = measured.other.get(measure) if measured.other else None
        if mine is None:
            continue
        final: Reading | None = None
        if end is not None:
            final = end.frontal_readings.get(measure) or (
                end.sagittal_readings.get(measure) if end.sagittal_readings else None
            )
        rows.append(
            MeasurementRow(
                name=measure.value,
                treated=words.reading(mine),
                other=words.reading(theirs),
                end="–" if final is None else words.said(final.shown()),
                normal=words.norm_range(mine.norm, mine.value.unit),
                source="" if mine.norm is None else str(mine.norm.source),
                outside=bool(mine.out_of_range),
                bar=_bar(mine),
            )
        )
    absent = measured.treated.all_not_measured()
    note = "Values ± half their 95 % interval. The planned end is geometry alone, without drift."
    if absent:
        note += " Not measured: " + " ".join(f"{n.measure}: {n.reason}" for n in absent)
    return Measurements(rows=tuple(rows), note=note)


def _bar(reading: Reading) -> Bar | None:
    norm = reading.norm
    if norm is None or norm.low is None or norm.high is None:
        return None
    half = 1.96 * reading.value.sd
    room = max(norm.high - norm.low, 1.0)
    return Bar(
        low=min(norm.low - room, reading.value.value - half),
        high=max(norm.high + room, reading.value.value + half),
        normal_low=norm.low,
        normal_high=norm.high,
        value=reading.value.value,
        half=half,
        outside=bool(reading.out_of_range),
    )


def _sources(findings: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(sorted({str(f.source) for f in findings}))
