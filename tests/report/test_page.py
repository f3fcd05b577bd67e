"""What the printed page is given."""

from datetime import date
from typing import Any

import pytest

from limbwright.course.schedule import schedule
from limbwright.limb.reading import Measure
from limbwright.practice.profile import Profile
from limbwright.quantity import Directed, Sense
from limbwright.report import svg, words
from limbwright.report.context import Table
from limbwright.report.operation_plan import printed_operation_plan
from limbwright.report.plan_page import operation_plan_page

DAY = date(2026, 3, 16)


def page_of(shown: Any, profile: Profile | None = None) -> Any:
    schedules = tuple(schedule(p, DAY) for p in shown.planned.prescriptions)
    return operation_plan_page(
        shown.case,
        shown.planned,
        profile or Profile(),
        schedules=schedules,
        printed_on=DAY,
        films_shown=True,
    )


def test_the_wall_says_bone_length_nail_and_weight(shown: Any) -> None:
    page = page_of(shown)
    bone = shown.planned.plan.bones[0]
    assert f"lengthen {bone.lengthening_mm:.0f} mm" in page.headline
    values = {item.label: item.value for group in page.big for item in group.items}
    assert values["Diameter × length"] == f"{bone.nail.thick_diameter_mm:g} × {bone.nail.length_mm:.0f} mm"
    assert values["above the plafond"] == f"{bone.osteotomy.above_distal_joint_mm:.0f} mm"
    assert "lb)" in values["Weight on the leg, at most"]
    assert page.invented


def test_every_finding_and_every_step_of_the_plan_is_printed(shown: Any) -> None:
    page = page_of(shown)
    assert [f.words for f in page.findings] == [f.words for f in shown.planned.findings]
    assert len(page.steps) == len(shown.planned.steps)
    assert {str(f.source) for f in shown.planned.findings} == set(page.sources)


def test_measurements_carry_their_planned_end(shown: Any) -> None:
    rows = {row.name: row for row in page_of(shown).measurements.rows}
    assert rows["MPTA"].outside
    assert rows["MPTA"].end == words.said(
        shown.planned.outlook.stages[-1].frontal_readings.need(Measure.MPTA).shown()
    )
    bar = rows["MPTA"].bar
    assert bar.low < bar.normal_low < bar.normal_high < bar.high


def test_settings_that_differ_from_the_defaults_are_listed(shown: Any) -> None:
    titles = {t.title: t for t in page_of(shown, Profile(overlap_mm=60.0)).tables}
    (row,) = titles["Settings of this practice that differ from the defaults"].rows
    assert row == ("overlap_mm", "60.0", "50.0")
    assert "Settings of this practice that differ from the defaults" not in {
        t.title for t in page_of(shown).tables
    }


def test_the_paper_is_deterministic_and_a_pdf(shown: Any) -> None:
    schedules = tuple(schedule(p, DAY) for p in shown.planned.prescriptions)
    made = [
        printed_operation_plan(
            shown.case,
            shown.planned,
            Profile(),
            schedules=schedules,
            pictures=shown.pictures,
            printed_on=DAY,
        )
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert made[0].startswith(b"%PDF-")


def test_a_ragged_table_is_a_mistake_of_ours() -> None:
    with pytest.raises(ValueError, match="has 2 columns"):
        Table(title="t", header=("a", "b"), widths=("auto", "auto"), rows=(("1",),))


def test_numbers_are_said_with_a_word_and_their_unit() -> None:
    assert words.said(Directed(magnitude=8.33, direction=Sense.VALGUS, unit="deg")) == "8.3° valgus"
    assert words.said(Directed(magnitude=0.0, direction=Sense.NONE, unit="mm")) == "0 mm"
    assert words.reading(None) == words.measured(None, None) == words.norm_range(None, "deg") == "–"


def test_text_cannot_break_out_of_a_drawing() -> None:
    assert svg.words(0, 0, '<script>"&', fill="x") == '<text x="0" y="0" fill="x">&lt;script&gt;"&amp;</text>'
