"""Tables of an audit in which every question has an answer."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import pytest

from limbwright.cli.audit_tables import print_audit
from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.logistic import Separated
from limbwright.practice.audit.offer import offered_settings
from limbwright.practice.profile import Profile

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "bench_audit.py"


@pytest.fixture(scope="module")
def results():
    spec = importlib.util.spec_from_file_location("bench_audit", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    return practice_audit(bench.generated(1500, seed=7), Profile())


def test_every_table_has_numbers(results, capsys) -> None:
    print_audit(results, offered_settings(results, Profile()))
    shown = capsys.readouterr().out
    assert "needed" not in shown.split("By period")[0]
    median = results.healing_index[0].days_per_cm.median
    fit = results.calf_release.fit
    for words in (
        f"{median:.1f}",
        "deg valgus",
        f"{fit.even_at:.1f} mm",
        f"{fit.odds_ratio(10)[0]:.2f}",
        "Offered to the practice profile; nothing is changed",
        "within",
    ):
        assert words in shown, words


def test_a_curve_says_nothing_beyond_its_follow_up_and_separation_is_told(results, capsys) -> None:
    first = results.healing_curves[0]
    short = replace(
        first.curve,
        days=(50.0,),
        healed_share=(0.25,),
        low_share=(0.1,),
        high_share=(0.4,),
        at_risk=(40,),
        followed_to_days=200.0,
        median_days=None,
        median_interval=None,
    )
    apart = Separated(at=44.5, yes_above=True, complete=True)
    changed = replace(
        results,
        healing_curves=(replace(first, curve=short),),
        calf_release=replace(results.calf_release, fit=apart),
    )
    print_audit(changed, ())
    shown = capsys.readouterr().out
    row = next(line for line in shown.splitlines() if "not reached" in line)
    assert row.count("25 % (10 to 40)") == 2  # by day 90 and 180, not by 270
    assert "separation: every case with the outcome lies above 44.5" in " ".join(shown.split())
    assert "Offered" not in shown
