"""A film that was due and was not taken."""

from collections.abc import Iterator

from limbwright.course.advice.said import Said, numbers
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.plan.rule import rule_source


def overdue(s: Standing) -> Iterator[Said]:
    """The latest film day that has passed without a visit near it or since, while the bone lengthens."""
    grace = s.profile.film_overdue_days
    due = [d for d in s.days if d.film and d.number < s.today - grace]
    if not due or not s.lengthening:
        return
    last = due[-1]
    if any(s.treatment.day_number(v.seen_on) >= last.number - grace for v in s.visits):
        return
    late = s.today - last.number
    yield Said(
        Finding(
            id="film-overdue",
            severity=Severity.CAUTION,
            words=f"A film of the {s.bone} was due on day {last.number} ({last.on}), {late} days ago; no "
            "visit "
            "is recorded since.",
            next_step="Take the film, or record the visit; what is shown here rests on older readings.",
            numbers=numbers(("days overdue", late, "d"), ("days allowed", grace, "d")),
            rule="A film is missed film_overdue_days after it was due.",
            source=rule_source(s.profile, "film_overdue_days"),
        )
    )
