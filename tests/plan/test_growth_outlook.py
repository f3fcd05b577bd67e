import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Sex
from limbwright.growth.prediction import DiscrepancyAtMaturity
from limbwright.plan.circumstances import EarlierLengths, Examination
from limbwright.plan.growth_outlook import (
    NOT_SHORT,
    GrowthOutlook,
    growth_outlook,
    projected_discrepancy,
    staging_option,
)
from limbwright.practice.profile import Profile


def predicted(age: float, *, long_mm: float = 700, short_mm: float = 660) -> DiscrepancyAtMaturity:
    return projected_discrepancy(
        kind=DiscrepancyKind.CONGENITAL,
        long_leg_mm=long_mm,
        short_leg_mm=short_mm,
        sex=Sex.MALE,
        age_years=age,
        skeletal_age_years=None,
        inhibited_share=None,
        discrepancy_sd_mm=2,
        profile=Profile(),
    )


def test_the_projection_is_the_multipliers() -> None:
    assert predicted(10).by_multiplier.value == pytest.approx(40 * 1.31)


def test_more_than_one_stage_at_maturity_offers_staging() -> None:
    option = staging_option(
        predicted(8, short_mm=640), stage_limit_mm=60, nail_possible=False, profile=Profile()
    )
    assert option is not None
    assert option.finding.id == "staging-while-growing"
    assert option.at_maturity_mm == pytest.approx(60 * 1.47)
    assert option.now_mm == pytest.approx(60)
    assert option.left_at_maturity_mm == pytest.approx(60 * 0.47)
    assert "other means than a nail" in option.finding.words


def test_one_stage_at_maturity_can_wait() -> None:
    option = staging_option(predicted(10), stage_limit_mm=60, nail_possible=True, profile=Profile())
    assert option is not None
    assert option.finding.id == "one-stage-at-maturity"


def test_a_grown_patient_has_no_such_option() -> None:
    assert staging_option(predicted(30), stage_limit_mm=60, nail_possible=True, profile=Profile()) is None


def seen(
    age: float,
    *,
    kind: DiscrepancyKind | None = DiscrepancyKind.CONGENITAL,
    earlier: EarlierLengths | None = None,
    treated: float = 660,
    skeletal: float | None = None,
) -> GrowthOutlook:
    return growth_outlook(
        treated_leg_mm=treated,
        other_leg_mm=700,
        discrepancy_sd_mm=2,
        sex=Sex.MALE,
        age_years=age,
        skeletal_age_years=skeletal,
        examination=Examination(discrepancy_kind=kind, earlier_lengths=earlier),
        stage_limit_mm=60,
        nail_possible=True,
        profile=Profile(),
    )


def ids(outlook: GrowthOutlook) -> list[str]:
    return [f.id for f in outlook.findings]


def test_a_growing_patient_gets_prediction_second_opinion_and_option() -> None:
    outlook = seen(12, skeletal=11)
    assert outlook.prediction is not None
    assert outlook.prediction.by_multiplier.value == pytest.approx(40 * 1.18)
    assert outlook.prediction.by_growth_remaining is not None
    assert outlook.option is not None
    assert {"discrepancy-still-changing", "one-stage-at-maturity"} <= set(ids(outlook))


def test_two_methods_that_disagree_are_shown() -> None:
    assert "discrepancy-predictions-disagree" in ids(seen(12, treated=580, skeletal=15.5))
    assert "discrepancy-predictions-disagree" not in ids(seen(12, skeletal=12))


def test_without_the_kind_both_answers_are_given_and_none_is_chosen() -> None:
    outlook = seen(10, kind=None)
    assert outlook.prediction is None
    assert [a.by_multiplier.value for a in outlook.alternatives] == pytest.approx([40, 52.4])
    assert "discrepancy-kind-not-given" in ids(outlook)
    assert "40 mm if constant and 52 mm if congenital" in outlook.findings[0].words


def test_a_developmental_discrepancy_needs_earlier_lengths() -> None:
    kind = DiscrepancyKind.DEVELOPMENTAL
    missing = seen(10, kind=kind)
    assert ids(missing) == ["discrepancy-not-projected"]
    assert missing.prediction is None
    too_little = EarlierLengths(treated_mm=658, other_mm=698, years_before=0.5)
    assert "grew 2.0 mm" in seen(10, kind=kind, earlier=too_little).findings[0].words
    earlier = EarlierLengths(treated_mm=635, other_mm=670, years_before=1)
    known = seen(10, kind=kind, earlier=earlier)
    assert known.prediction is not None
    # I = 1 - 25/30; growth left 700 x 0.31.
    assert known.prediction.by_multiplier.value == pytest.approx(40 + 217 / 6)


def test_a_grown_patient_keeps_the_discrepancy_and_needs_no_kind() -> None:
    outlook = seen(30, kind=None)
    assert outlook.prediction is not None
    assert outlook.prediction.by_multiplier.value == pytest.approx(40)
    assert (outlook.option, outlook.findings, outlook.alternatives) == (None, (), ())


def test_a_longer_treated_leg_is_not_projected() -> None:
    assert seen(10, treated=720) == NOT_SHORT


@given(age=st.floats(1, 16), other=st.floats(1, 16))
def test_the_younger_the_patient_the_larger_a_congenital_discrepancy_becomes(
    age: float, other: float
) -> None:
    young, old = (seen(a).prediction for a in sorted((age, other)))
    assert young is not None
    assert old is not None
    assert young.by_multiplier.value >= old.by_multiplier.value - 1e-9
