import pytest

from limbwright.finding import Severity
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Physis, Sex
from limbwright.growth.prediction import DiscrepancyAtMaturity
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.plan.maturity import (
    WayMaturity,
    maturity_findings,
    projected_discrepancy,
    staging_option,
    ways_maturity,
)
from limbwright.practice.profile import Profile


def ways(
    sex: Sex, age: float, *, skeletal: float | None = None, examination: Examination | None = None
) -> dict[tuple[Bone, Direction], WayMaturity]:
    found = ways_maturity(
        sex=sex,
        age_years=age,
        skeletal_age_years=skeletal,
        examination=examination or Examination(),
        profile=Profile(),
    )
    return {(w.bone, w.direction): w for w in found}


def stops(way: WayMaturity) -> list[str]:
    return [f.id for f in way.findings if f.severity is Severity.STOP]


TIBIA = (Bone.TIBIA, Direction.ANTEGRADE)
RETROGRADE = (Bone.FEMUR, Direction.RETROGRADE)
ANTEGRADE = (Bone.FEMUR, Direction.ANTEGRADE)


@pytest.mark.parametrize(
    ("sex", "age", "stopped"),
    [
        (Sex.FEMALE, 13.9, True),
        (Sex.FEMALE, 14.0, False),
        (Sex.MALE, 15.9, True),
        (Sex.MALE, 16.0, False),
    ],
)
def test_calendar_age_limits_of_a_tibial_nail(sex: Sex, age: float, stopped: bool) -> None:
    found = ways(sex, age)
    assert bool(stops(found[TIBIA])) is stopped
    assert bool(stops(found[RETROGRADE])) is stopped


def test_the_practices_limit_is_for_the_tibia_only() -> None:
    found = ways_maturity(
        sex=Sex.FEMALE,
        age_years=14.5,
        skeletal_age_years=None,
        examination=Examination(),
        profile=Profile(tibial_nail_min_age_girl_years=15),
    )
    assert [(w.bone, w.direction) for w in found if w.maturity.open] == [TIBIA]
    assert "practice profile" in next(w for w in found if w.maturity.open).findings[0].source.text


def test_skeletal_age_wins() -> None:
    assert stops(ways(Sex.MALE, 15.0, skeletal=16.5)[TIBIA]) == []
    assert stops(ways(Sex.MALE, 17.0, skeletal=15.0)[TIBIA]) == ["physis-open"]


def test_a_film_wins_over_every_age() -> None:
    seen_open = Examination(open_physes=(Physis.PROXIMAL_TIBIA,))
    assert stops(ways(Sex.MALE, 20, examination=seen_open)[TIBIA]) == ["physis-open"]
    assert stops(ways(Sex.MALE, 20, examination=seen_open)[RETROGRADE]) == []
    seen_closed = Examination(closed_physes=(Physis.PROXIMAL_TIBIA,))
    assert stops(ways(Sex.MALE, 15, examination=seen_closed)[TIBIA]) == []


def test_an_antegrade_femoral_nail_is_a_caution_by_age_and_a_stop_by_film() -> None:
    by_age = ways(Sex.FEMALE, 12)[ANTEGRADE]
    assert stops(by_age) == []
    assert "proximal-femur-by-age" in [f.id for f in by_age.findings]
    by_film = ways(Sex.FEMALE, 12, examination=Examination(open_physes=(Physis.PROXIMAL_FEMUR,)))
    assert stops(by_film[ANTEGRADE]) == ["physis-open"]
    assert ways(Sex.FEMALE, 30)[ANTEGRADE].findings == ()


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


def test_a_plan_shows_only_its_own_ways_worst_first_and_each_once() -> None:
    found = tuple(ways(Sex.MALE, 15.5).values())
    prediction = predicted(12)
    option = staging_option(prediction, stage_limit_mm=60, nail_possible=True, profile=Profile())
    shown = maturity_findings(found, bones=(TIBIA,), prediction=prediction, option=option)
    ids = [f.id for f in shown]
    assert ids[0] == "physis-open"
    assert "proximal-femur-by-age" not in ids
    assert {"skeletal-age-wanted", "discrepancy-still-changing", "one-stage-at-maturity"} <= set(ids)
    assert len(ids) == len(set(ids))
    assert maturity_findings(found, bones=(), prediction=None, option=None) == ()
