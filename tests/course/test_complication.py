from datetime import date

import pytest

from limbwright.course.complication import (
    Complication,
    ComplicationKind,
    PaleyClass,
    Remedy,
    paley_class,
)
from limbwright.course.score import Score
from limbwright.error import Contradiction, OutOfRange

END = date(2026, 12, 1)


def event(**values):
    return Complication(**{"kind": ComplicationKind.JOINT_CONTRACTURE, "seen_on": date(2026, 5, 1)} | values)


@pytest.mark.parametrize(
    ("values", "ended_on", "expected"),
    [
        ({"remedy": Remedy.NOT_OPERATIVE, "resolved_on": date(2026, 6, 1)}, END, PaleyClass.PROBLEM),
        ({"remedy": Remedy.OPERATIVE, "resolved_on": date(2026, 6, 1)}, END, PaleyClass.OBSTACLE),
        ({"remedy": Remedy.OPERATIVE, "resolved_on": date(2026, 6, 1)}, None, PaleyClass.OBSTACLE),
        ({"remedy": Remedy.NOT_OPERATIVE}, END, PaleyClass.MINOR_COMPLICATION),
        ({"remedy": Remedy.OPERATIVE, "resolved_on": date(2027, 2, 1)}, END, PaleyClass.MINOR_COMPLICATION),
        ({"interferes_with_goal": True}, END, PaleyClass.MAJOR_COMPLICATION),
        (
            {"interferes_with_goal": True, "resolved_on": date(2026, 6, 1)},
            END,
            PaleyClass.MAJOR_COMPLICATION,
        ),
        ({"interferes_with_goal": True}, None, PaleyClass.MAJOR_COMPLICATION),
        ({}, None, PaleyClass.OPEN),
    ],
)
def test_classes(values, ended_on, expected):
    assert paley_class(event(**values), treatment_ended_on=ended_on) is expected


def test_resolved_before_it_was_seen_is_refused():
    with pytest.raises(Contradiction, match=r"resolved on 2026-04-01, seen first on 2026-05-01"):
        event(resolved_on=date(2026, 4, 1))


@pytest.mark.parametrize(("worst", "best", "value", "percent"), [(0, 80, 60, 75), (10, 0, 2.5, 75)])
def test_scores_run_from_worst_to_best(worst, best, value, percent):
    score = Score(name="any", on=END, value=value, worst=worst, best=best)
    assert score.percent_of_best() == pytest.approx(percent)


def test_impossible_scores_are_refused():
    with pytest.raises(OutOfRange, match=r"score 'any' is 90 , expected 0 to 80"):
        Score(name="any", on=END, value=90, worst=0, best=80)
    with pytest.raises(Contradiction, match=r"worst and best result of 'any' are both 5"):
        Score(name="any", on=END, value=5, worst=5, best=5)
