"""The closing letter: what was planned, what came of it, what is left to do, for whoever treats on."""

from dataclasses import dataclass
from datetime import date

from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.course.complication import PaleyClass, Remedy
from limbwright.course.course import Course, Treatment
from limbwright.course.outcome import BoneOutcome, ClassifiedEvent, MotionKept, Outcome, outcome
from limbwright.course.score import Score
from limbwright.error import Missing
from limbwright.finding import Severity
from limbwright.growth.growth import Sex
from limbwright.practice.profile import Profile
from limbwright.quantity import Directed
from limbwright.report import words
from limbwright.report.context import FindingLine, Table, finding_line
from limbwright.report.pdf import typeset

ADULT_YEARS = 18.0
NOT_RECORDED = "not recorded"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneSection:
    """What the letter says of one bone."""

    title: str
    sentences: tuple[str, ...]
    table: Table


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosingLetterPage:
    """Everything on the closing letter."""

    title: str
    header_right: str
    caution: str
    invented: bool
    subject: str
    opening: str
    bones: tuple[BoneSection, ...]
    motion: Table | None
    events: Table | None
    events_words: str
    scores: Table | None
    open_points: tuple[FindingLine, ...]
    method: str
    note_headline: str


def printed_closing_letter(case: Case, profile: Profile, *, printed_on: date) -> bytes:
    """The closing letter of a case as PDF. Raises Missing where the case has no course."""
    return typeset("closing_letter.typ", closing_letter_page(case, profile, printed_on=printed_on))


def closing_letter_page(case: Case, profile: Profile, *, printed_on: date) -> ClosingLetterPage:
    """Texts and numbers of the closing letter.

    Parameters
    ----------
    case : Case
        With a course.
    profile : Profile
        Tolerances.
    printed_on : date
        Day of printing.

    Raises
    ------
    Missing
        If the case has no course: there is nothing to close.
    """
    course = case.course
    if course is None:
        raise Missing(
            "no operation is recorded.",
            where=f"case {case.id!r}, course",
            next_step="Record the operation and the visits first.",
        )
    found = outcome(course, profile, before=case.examination)
    findings = tuple(f for bone in found.bones for f in bone.findings)
    ended = course.ended_on is not None
    return ClosingLetterPage(
        title=f"{'Closing' if ended else 'Interim'} letter, case {case.id}",
        header_right=f"{case.side} leg · printed {_day(printed_on)}",
        caution=CAUTION,
        invented=case.invented,
        subject=_subject(case, course),
        opening=_opening(case, course),
        note_headline="" if ended else "Treatment goes on: this letter reports where it stands.",
        bones=tuple(_bone(case, t, b) for t, b in zip(course.treatments, found.bones, strict=True)),
        motion=_motion(found),
        events=_events(found.events),
        events_words=_events_words(found),
        scores=_scores(found.scores),
        open_points=tuple(finding_line(f) for f in findings if f.severity is not Severity.NOTE)
        + tuple(finding_line(f) for f in findings if f.severity is Severity.NOTE),
        method="Accuracy is 100 (1 - |achieved - planned| / planned); indices are days for each centimetre "
        "gained, healing from the operation to consolidation, distraction from the operation to the last "
        "dose, maturation from the last dose to consolidation. Values are given ± half their 95 % interval. "
        "Adverse events are classed as problem, obstacle, minor or major complication (Paley, Clin Orthop "
        "Relat Res 1990, 250:81-104; definitions from memory).",
    )


def _subject(case: Case, course: Course) -> str:
    first = min(t.operated_on for t in course.treatments)
    age = case.age_years(first)
    female = case.patient.sex is Sex.FEMALE
    who = ("woman" if female else "man") if age >= ADULT_YEARS else ("girl" if female else "boy")
    return (
        f"Patient {case.patient.id}, {who}, {age:.1f} years at the operation; "
        f"{case.side} leg. {case.diagnosis or 'No diagnosis given.'}"
    )


def _opening(case: Case, course: Course) -> str:
    bones = " and ".join(t.prescription.bone.value for t in course.treatments)
    seen = len(course.visits)
    over = f" Treatment ended on {_day(course.ended_on)}." if course.ended_on is not None else ""
    return (
        f"Dear colleague, we report on the lengthening of the {case.side} {bones} over a motorised "
        f"intramedullary nail, followed at {seen} visit{'' if seen == 1 else 's'}.{over}"
    )


def _bone(case: Case, treatment: Treatment, found: BoneOutcome) -> BoneSection:
    nail = treatment.nail or next(
        (b.nail for b in (case.plan.bones if case.plan else ()) if b.bone is found.bone), None
    )
    sentences = [
        f"Operated on {_day(treatment.operated_on)}"
        + (
            "; the nail is not recorded."
            if nail is None
            else f"; nail {nail.name}, {nail.thick_diameter_mm:g} mm thick, {nail.length_mm:.0f} mm long."
        )
    ]
    sentences += [
        f"{what} {_day(day)}."
        for what, day in (
            ("Called consolidated on", treatment.consolidated_on),
            ("Full weight allowed from", treatment.full_weight_on),
            ("Nail removed on", treatment.nail_removed_on),
        )
        if day is not None
    ]
    achieved = (
        NOT_RECORDED
        if found.achieved is None
        else f"{found.achieved.value:.1f} ± {1.96 * found.achieved.sd:.1f} mm"
    )
    rows = (
        ("Length", f"{found.planned_mm:g} mm", achieved),
        ("Accuracy of length", "", _number(found.accuracy_percent, "%", 0)),
        ("Precision of length from film to film", "", _number(found.precision_percent, "%", 0)),
        ("Angulation since the operation, frontal film", "none", _angle(found.frontal)),
        ("Angulation since the operation, sagittal film", "none", _angle(found.sagittal)),
        *(
            (
                f"{one.measure}, follow-up film",
                "" if one.first_deg is None else f"{one.first_deg:.1f}° after the operation",
                f"{one.end.value:.1f} ± {1.96 * one.end.sd:.1f}°",
            )
            for one in found.joint_angles
        ),
        ("Healing index", "", _number(found.healing_index_days_per_cm, "days/cm", 0)),
        ("Distraction index", "", _number(found.distraction_index_days_per_cm, "days/cm", 0)),
        ("Maturation index", "", _number(found.maturation_index_days_per_cm, "days/cm", 0)),
    )
    return BoneSection(
        title=f"{found.bone.value.capitalize()}",
        sentences=tuple(sentences),
        table=Table(title="", header=("", "planned", "achieved"), widths=("fill", "auto", "auto"), rows=rows),
    )


def _motion(found: Outcome) -> Table | None:
    # Motion belongs to the leg: every bone carries the same.
    rows = tuple(_motion_row(one) for one in (found.bones[0].motion if found.bones else ()))
    if not rows:
        return None
    return Table(
        title="Joint motion",
        header=("", "before", "at the last visit", "change"),
        widths=("fill", "auto", "auto", "auto"),
        rows=rows,
    )


def _motion_row(one: MotionKept) -> tuple[str, ...]:
    lost = one.lost_deg()
    change = (
        "–"
        if lost is None
        else "as before"
        if lost == 0
        else f"{abs(lost):.0f}° {'worse' if lost > 0 else 'better'}"
    )

    def said(value: float | None) -> str:
        if value is None:
            return "not examined"
        # A plantigrade foot is missed by equinus; the joint's own words say it without a sign.
        if one.name.startswith("ankle") and value < 0:
            return f"{-value:.0f}° equinus"
        if not one.better_when_more and value < 0:
            return f"{-value:.0f}° beyond straight"
        return f"{value:.0f}°"

    return (one.name.capitalize(), said(one.before_deg), said(one.end_deg), change)


def _events(events: tuple[ClassifiedEvent, ...]) -> Table | None:
    if not events:
        return None
    return Table(
        title="Problems, obstacles, complications",
        header=("seen on", "what", "treatment", "resolved", "class"),
        widths=("auto", "auto", "fill", "auto", "auto"),
        rows=tuple(
            (
                _day(e.event.seen_on),
                e.event.kind.value + (f", {e.event.bone}" if e.event.bone is not None else ""),
                e.event.remedy_words or ("none" if e.event.remedy is Remedy.NONE else e.event.remedy.value),
                "no" if e.event.resolved_on is None else _day(e.event.resolved_on),
                e.paley.value,
            )
            for e in events
        ),
    )


def _events_words(found: Outcome) -> str:
    if not found.events:
        return "No adverse event was recorded."
    counts = [(paley, found.count(paley)) for paley in PaleyClass if found.count(paley)]
    said = [
        f"{n} {paley.value}{'s' if n > 1 and paley is not PaleyClass.OPEN else ''}" for paley, n in counts
    ]
    return f"{', '.join(said)}."


def _scores(scores: tuple[Score, ...]) -> Table | None:
    if not scores:
        return None
    return Table(
        title="Patient-reported scores",
        header=("", "on", "result", "scale, worst to best"),
        widths=("fill", "auto", "auto", "auto"),
        rows=tuple((s.name, _day(s.on), f"{s.value:g}", f"{s.worst:g} to {s.best:g}") for s in scores),
    )


def _number(value: float | None, unit: str, digits: int) -> str:
    return NOT_RECORDED if value is None else f"{value:.{digits}f} {unit}"


def _angle(value: Directed | None) -> str:
    return NOT_RECORDED if value is None else words.said(value)


def _day(day: date | None) -> str:
    return "–" if day is None else f"{day.day} {day:%b %Y}"
