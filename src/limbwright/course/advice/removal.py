"""When the nail may be removed."""

import calendar
from collections.abc import Iterator
from datetime import date

from limbwright.course.advice.said import Said, numbers
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.plan.rule import rule_source


def removal_day(operated_on: date, months: float) -> date:
    """The day whole months and the rest of a month, at 30.4 days, after the operation."""
    whole = int(months)
    index = operated_on.month - 1 + whole
    year, month = operated_on.year + index // 12, index % 12 + 1
    last = calendar.monthrange(year, month)[1]
    day = operated_on.replace(year=year, month=month, day=min(operated_on.day, last))
    return day.fromordinal(day.toordinal() + round((months - whole) * 30.4))


def removal(s: Standing) -> Iterator[Said]:
    """Removal of the nail once the bone is consolidated."""
    t = s.treatment
    if t.consolidated_on is None or t.nail_removed_on is not None or s.on < t.consolidated_on:
        return
    months = s.profile.nail_removal_months
    due = removal_day(t.operated_on, months)
    step = "Plan the removal, with tibiofibular screws where there are any; protect the bone after it."
    rule = "A nail is removed nail_removal_months after the operation, when the bone is consolidated."
    found = numbers(("months after the operation", months, ""))
    source = rule_source(s.profile, "nail_removal_months")
    if s.on >= due:
        yield Said(
            Finding(
                id="nail-removal-due",
                severity=Severity.CAUTION,
                words=f"The {s.bone} is consolidated; removal of the nail has been due since {due}, "
                f"{months:g} "
                "months after the operation.",
                next_step=step,
                numbers=found,
                rule=rule,
                source=source,
            )
        )
    else:
        yield Said(
            Finding(
                id="nail-removal-later",
                severity=Severity.NOTE,
                words=f"The {s.bone} is consolidated; the nail may be removed from {due}, {months:g} months "
                "after the operation.",
                next_step=step,
                numbers=found,
                rule=rule,
                source=source,
            )
        )
