"""A stored case as its course page needs it, and changes of its prescription."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from limbwright.case.case import Case
from limbwright.case.followed import followed_case
from limbwright.course import change as changes
from limbwright.course.amendment import Amendment
from limbwright.course.course import Course, Treatment
from limbwright.course.diary import DiaryEntry
from limbwright.course.outlook import CourseOutlook
from limbwright.course.standing import Standing
from limbwright.error import LimbwrightError
from limbwright.interop.plain_charts import charts_plain
from limbwright.interop.plain_course import course_outlook_plain
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile
from limbwright.web.bench import Workbench
from limbwright.web.casework import document_of, stored_case
from limbwright.web.course.asked import (
    AnotherRate,
    CourseChange,
    EndHere,
    GoOn,
    Rest,
    Shorten,
    TickedDay,
)
from limbwright.web.failure import Failure, said
from limbwright.web.moment import today

LONGEST_FOLLOWED_DAYS = 7300
"""Twenty years."""


def course_of(case: Case) -> Course:
    """The course of a case. Raises Failure 409 before the operation."""
    if case.course is None:
        raise Failure(
            409,
            "no-course",
            "no operation is recorded.",
            where=f"case {case.id}",
            next_step="Record the day of the operation on the operation page.",
        )
    return case.course


def usual_day(course: Course) -> date:
    """The day a course is looked at where none is asked for: today, or the end of the treatment."""
    last = max(t.operated_on for t in course.treatments) + timedelta(days=LONGEST_FOLLOWED_DAYS)
    return min(today(), last, course.ended_on or last)


def day_within(course: Course, on: date) -> date:
    """The day, if a course can be followed on it; decades later it is a slip of the pen. Raises 422."""
    last = max(t.operated_on for t in course.treatments)
    if (on - last).days > LONGEST_FOLLOWED_DAYS:
        raise Failure(
            422,
            "refused",
            f"{on} lies more than {LONGEST_FOLLOWED_DAYS:,} days after the operation on {last}.",
            where="on",
            unit="d",
            next_step="Correct the date.",
        )
    return on


def course_plain(bench: Workbench, case_id: str, on: date | None) -> dict[str, Any]:
    """State, forecast, advice and charts of a case on a day; a reason in place of what cannot be known."""
    case, version = stored_case(bench, case_id)
    _, profile = bench.practice.profile()
    answer: dict[str, Any] = {
        "version": version,
        "on": None,
        "outlook": None,
        "absent": None,
        "charts": [],
        "visits": [],
        "films": _films(case),
        "ended_on": None,
    }
    if case.course is None:
        return answer
    day = day_within(case.course, on or usual_day(case.course))
    document = document_of(case)
    answer |= {
        "on": day.isoformat(),
        "visits": document["course"].get("visits", []),
        "ended_on": document["course"].get("ended_on"),
    }
    try:
        outlook = followed_case(case, profile, on=day)
    except LimbwrightError as error:
        return answer | {"absent": said(error)}
    return answer | {
        "outlook": course_outlook_plain(outlook),
        "charts": [charts_plain(bone, before=case.examination) for bone in outlook.bones],
    }


def _films(case: Case) -> list[dict[str, Any]]:
    return [
        {
            "name": film.name,
            "sha256": film.sha256,
            "projection": film.projection.value,
            "taken_on": None if film.taken_on is None else film.taken_on.isoformat(),
        }
        for film in case.films
    ]


def standing_of(outlook: CourseOutlook, bone: Bone, case_id: str) -> Standing:
    """One bone of an outlook. Raises Failure 422 where it is not treated by that day."""
    found = next((b.standing for b in outlook.bones if b.standing.bone is bone), None)
    if found is None:
        raise Failure(
            422,
            "refused",
            f"the {bone} has not been operated on by {outlook.on}.",
            where=f"case {case_id}, course",
            next_step="Ask for a bone that is being lengthened, or a later day.",
        )
    return found


def amendment_of(s: Standing, change: CourseChange, profile: Profile, *, reason: str = "") -> Amendment:
    """A change from the next day on, from the length that is most likely there, in whole steps."""
    step_mm = profile.distraction_step_mm
    gained = max(0.0, round(s.now.length.value / step_mm) * step_mm)
    t, day = s.treatment, s.today + 1
    match change:
        case AnotherRate():
            return changes.at_rate(
                t,
                profile,
                from_day=day,
                gained_mm=gained,
                rate_mm_per_day=change.rate_mm_per_day,
                reason=reason,
            )
        case Rest():
            return changes.held(t, from_day=day, gained_mm=gained, days=change.days, reason=reason)
        case Shorten():
            return changes.reversed_by(
                t, profile, from_day=day, gained_mm=gained, back_mm=change.back_mm, reason=reason
            )
        case GoOn():
            return changes.continued(t, from_day=day, gained_mm=gained, reason=reason)
        case EndHere():
            return changes.ended(from_day=day, gained_mm=gained, reason=reason)
        case _:
            return changes.accordion(
                t, profile, from_day=day, gained_mm=gained, turn_days=change.turn_days, reason=reason
            )


def with_treatment(case: Case, treatment: Treatment) -> Case:
    """The case with one bone's treatment replaced."""
    course = course_of(case)
    bone = treatment.prescription.bone
    return replace(
        case,
        course=replace(
            course,
            treatments=tuple(treatment if t.prescription.bone is bone else t for t in course.treatments),
        ),
    )


def with_diary(treatment: Treatment, days: tuple[TickedDay, ...]) -> Treatment:
    """The treatment with days of its diary written, or taken out again."""
    kept = {entry.on: entry for entry in treatment.diary}
    for day in days:
        kept.pop(day.on, None)
        if day.steps is not None:
            kept[day.on] = DiaryEntry(on=day.on, steps=day.steps, note=day.note)
    return replace(treatment, diary=tuple(kept[on] for on in sorted(kept)))
