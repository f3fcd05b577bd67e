import pytest

from limbwright.finding import Severity
from limbwright.growth.growth import Physis, Sex
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.plan.maturity import (
    WayMaturity,
    maturity_findings,
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


def test_a_plan_shows_only_its_own_ways_worst_first_and_each_once() -> None:
    found = tuple(ways(Sex.MALE, 15.5).values())
    ids = [f.id for f in maturity_findings(found, bones=(TIBIA,))]
    assert ids[0] == "physis-open"
    assert "proximal-femur-by-age" not in ids
    assert "skeletal-age-wanted" in ids
    assert len(ids) == len(set(ids))
    assert maturity_findings(found, bones=()) == ()
