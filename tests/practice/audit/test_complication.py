"""Rates of problems, obstacles and complications."""

import numpy as np

from limbwright.practice.audit.complication import Event, complication_rates, event_counts
from limbwright.practice.audit.proportion import Proportion
from limbwright.practice.audit.sample import TooFew


def test_a_bone_counts_once_however_many_events_it_had(blank) -> None:
    columns = blank(20, problems=[3, 1, *[0] * 18])
    found = {(r.event, r.group.words): r for r in complication_rates(columns, min_n=20, confidence=0.95)}
    rate = found[Event.PROBLEM, "tibia"]
    assert isinstance(rate.rate, Proportion)
    assert (rate.rate.count, rate.rate.n, rate.events) == (2, 20, 4)
    assert rate.cases_with == ("case 0", "case 1")
    assert len(rate.cases) == 20


def test_not_recorded_is_not_none(blank) -> None:
    columns = blank(25, obstacles=[*[0] * 19, *[np.nan] * 6])
    found = {(r.event, r.group.words): r for r in complication_rates(columns, min_n=20, confidence=0.95)}
    rate = found[Event.OBSTACLE, "all bones"]
    assert isinstance(rate.rate, TooFew)
    assert rate.rate.words == "19 of 20 needed (obstacle, all bones)"
    assert found[Event.MAJOR, "femur"].n == 0


def test_any_complication_needs_both_classes(blank) -> None:
    columns = blank(3, minor_complications=[1, 0, np.nan], major_complications=[1, 0, 1])
    counts = event_counts(columns, Event.ANY_COMPLICATION)
    assert counts[:2].tolist() == [2, 0]
    assert np.isnan(counts[2])
