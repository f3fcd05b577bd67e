"""Results and columns as CSV."""

import csv
import io

import numpy as np
import pytest

from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.columns import names
from limbwright.practice.audit.offer import offered_settings
from limbwright.practice.audit.sheet import Sheet, columns_sheet, csv_text, result_sheets
from limbwright.practice.profile import Profile


def read(sheet):
    first, *rest = csv_text(sheet, first_line="Mind this.").splitlines(keepends=True)
    assert first == "# Mind this.\n"
    return list(csv.DictReader(io.StringIO("".join(rest))))


def sheets_of(columns):
    audit = practice_audit(columns, Profile())
    return audit, {s.name: s for s in result_sheets(audit, offered_settings(audit, Profile()))}


@pytest.mark.parametrize("n", [0, 5, 1500])
def test_every_row_is_as_long_as_its_header_and_numbers_read_back(practice, blank, n) -> None:
    _, sheets = sheets_of(practice(n) if n else blank(0))
    assert set(sheets) == {
        "healing_index",
        "healing_curve",
        "accuracy",
        "drift_and_blocking_screws",
        "calf_release",
        "calf_release_curve",
        "complications",
        "periods",
        "offers",
    }
    for sheet in sheets.values():
        assert len(set(sheet.header)) == len(sheet.header), sheet.name
        assert all(len(row) == len(sheet.header) for row in sheet.rows), sheet.name
        assert len(read(sheet)) == len(sheet.rows)


def test_numbers_on_the_sheets_are_those_of_the_results(practice) -> None:
    audit, sheets = sheets_of(practice(1500))
    index = read(sheets["healing_index"])[0]
    assert float(index["median_days_per_cm"]) == pytest.approx(
        audit.healing_index[0].days_per_cm.median, rel=1e-5
    )
    length = read(sheets["accuracy"])[0]
    assert (length["outcome"], length["positive_means"]) == ("length", "longer")
    assert float(length["bias_low"]) == pytest.approx(audit.accuracy[0].agreement.bias_interval.low, rel=1e-4)
    drift = read(sheets["drift_and_blocking_screws"])[0]
    assert float(drift["size_difference_deg"]) == pytest.approx(
        audit.drift[0].drift.size_deg.difference, rel=1e-5
    )
    calf = read(sheets["calf_release"])[0]
    assert float(calf["even_chance_at_mm"]) == pytest.approx(audit.calf_release.fit.even_at, rel=1e-5)
    assert len(read(sheets["calf_release_curve"])) == 61
    rate = read(sheets["complications"])[0]
    assert int(rate["bones_with"]) == audit.complications[0].rate.count
    period = read(sheets["periods"])[0]
    assert int(period["bones_with"]) == audit.funnels[0].periods[0].point.count
    offer = read(sheets["offers"])[0]
    assert offer["present_plausible"] in {"yes", "no"}


def test_a_refusal_stands_where_the_numbers_would(practice) -> None:
    _, sheets = sheets_of(practice(5))
    for name in ("healing_curve", "accuracy", "calf_release", "complications", "periods"):
        for row in read(sheets[name]):
            assert "needed" in row["refused"], name


def test_columns_leave_without_name_day_or_exact_age(blank) -> None:
    columns = blank(
        2,
        operated_on=np.array(["2026-08-15", "NaT"], dtype="datetime64[D]"),
        age_years=[17.9, np.nan],
        frontal_drift_deg=[-2.5, np.nan],
        healed=[True, False],
        followed_days=[200, np.nan],
    )
    first, second = read(columns_sheet(columns))
    assert first["operated_in"] == "2026-Q3"
    assert first["age_whole_years"] == "17"
    assert first["frontal_drift_deg_varus_positive"] == "-2.5"
    assert (first["healed"], second["healed"]) == ("yes", "no")
    assert {second[k] for k in ("operated_in", "age_whole_years", "frontal_drift_deg_varus_positive")} == {""}
    assert len(first) == len(names())


@pytest.mark.parametrize("text", ["=1+1", "+49", "-1", "@x", "\tx"])
def test_a_text_that_a_spreadsheet_would_run_is_made_plain(text) -> None:
    (row,) = read(Sheet(name="s", header=("a", "b"), rows=((text, -1.5),)))
    assert row == {"a": "'" + text, "b": "-1.5"}


def test_commas_quotes_and_line_breaks_read_back() -> None:
    sheet = Sheet(name="s", header=("a",), rows=(('x, "y"\nz',),))
    assert csv_text(sheet, first_line="a\nb").splitlines()[0] == "# a b"
    text = csv_text(sheet, first_line="a").split("\n", 1)[1]
    assert list(csv.reader(io.StringIO(text)))[1] == ['x, "y"\nz']
