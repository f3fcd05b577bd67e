import pytest

from limbwright.error import Refused
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure
from limbwright.limb.template import Origin, template_of, templates


def test_a_normal_other_leg_is_the_template(frontal):
    other = readings(frontal(mldfa=86.5), age_years=30).need(Measure.MLDFA)
    template = template_of(Measure.MLDFA, other, age_years=30)
    assert template.origin is Origin.OTHER_LEG
    assert template.value == pytest.approx(86.5)
    assert template.sd == other.value.sd
    assert "the other leg's mLDFA of 86.5 lies within 85 to 90" in template.reason


def test_a_deformed_other_leg_gives_way_to_the_population(frontal):
    other = readings(frontal(mldfa=95.0), age_years=30).need(Measure.MLDFA)
    template = template_of(Measure.MLDFA, other, age_years=30)
    assert template.origin is Origin.POPULATION
    assert template.value == 88
    assert template.sd == pytest.approx(1.25)  # a quarter of 85 to 90
    assert "lies outside 85 to 90" in template.reason
    assert "Paley" in template.source.text


def test_what_the_surgeon_says_about_the_other_leg_counts(frontal):
    other = readings(frontal(mldfa=86.5), age_years=30).need(Measure.MLDFA)
    template = template_of(Measure.MLDFA, other, age_years=30, other_leg_is_normal=False)
    assert template.origin is Origin.POPULATION
    assert template.reason == "the other leg is stated not to be normal"


def test_without_the_other_leg_the_population_stands_in():
    assert template_of(Measure.MPTA, None, age_years=30).reason == "the other leg was not measured"


def test_a_measure_without_range_cannot_judge_the_other_leg(frontal):
    other = readings(frontal(), age_years=30).need(Measure.HKA)
    template = template_of(Measure.HKA, other, age_years=30)
    assert template.origin is Origin.POPULATION
    assert template.value == pytest.approx(1.3)


def test_a_small_child_needs_a_leg_that_is_stated_to_be_normal(frontal):
    other = readings(frontal(mldfa=84.0), age_years=5).need(Measure.MLDFA)
    with pytest.raises(
        Refused, match=r"adult limits are not used below 7 years .* is not stated to be normal"
    ):
        template_of(Measure.MLDFA, other, age_years=5)
    with pytest.raises(Refused, match="and the other leg was not measured"):
        template_of(Measure.MLDFA, None, age_years=5)
    template = template_of(Measure.MLDFA, other, age_years=5, other_leg_is_normal=True)
    assert template.value == pytest.approx(84)
    assert "stated to be normal" in template.reason


def test_all_templates_of_a_leg(frontal):
    other = readings(frontal(mpta=80.0), age_years=30)
    found = templates(other, age_years=30)
    assert found[Measure.MLDFA].origin is Origin.OTHER_LEG
    assert found[Measure.MPTA].origin is Origin.POPULATION
    assert found[Measure.PPTA].origin is Origin.POPULATION
    assert Measure.FEMUR_LENGTH not in found
    assert templates(other, age_years=5) == {}
