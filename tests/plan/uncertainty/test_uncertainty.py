from dataclasses import replace

import numpy as np
import pytest

from limbwright.finding import Severity
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.mechanics import Plane
from limbwright.plan.uncertainty.uncertainty import BonePlanned, Draws, LengthsOfLeg, plan_uncertainty
from limbwright.plan.uncertainty.values import LENGTH, Source, drift_name, overlap_name, told
from limbwright.practice.profile import Profile

LENGTHS = LengthsOfLeg(now_mm=-35.0, end_mm=0.5)
FRONTAL_DRIFT = drift_name(Bone.TIBIA, Plane.FRONTAL)
OVERLAP = overlap_name(Bone.TIBIA)
FEW = Draws(count=1024, seed=5)


def sampled(tibia, profile=Profile(), forecast="own", **changes):  # type: ignore[no-untyped-def]  # noqa: B008
    made = tibia.forecast if forecast == "own" else forecast
    return plan_uncertainty(
        tibia.leg,
        [BonePlanned(plan=tibia.found.plan, forecast=made)],
        profile,
        targets={Measure.MPTA: 87.0},
        **{"lengths": LENGTHS, "draws_of": FEW, **changes},
    )


@pytest.fixture(scope="module")
def made(tibia):  # type: ignore[no-untyped-def]
    return sampled(tibia)


def test_every_result_is_distributed_about_what_is_planned(made, tibia) -> None:
    drift = tibia.forecast.planned.drift()
    assert made.results[FRONTAL_DRIFT].value[3] == pytest.approx(drift.varus_deg, abs=0.3)
    assert made.results[LENGTH].mean == pytest.approx(0.5, abs=0.02)
    # 1 % of scale on 35 mm that were read; the length gained is the nail's own.
    assert made.results[LENGTH].sd == pytest.approx(0.35, rel=0.05)
    assert made.results[OVERLAP].sd == pytest.approx(3.0, rel=0.05)
    assert made.results["MPTA"].value == tuple(sorted(made.results["MPTA"].value))


def test_the_length_varies_with_the_marks_it_was_read_by(made, tibia) -> None:
    read = sampled(tibia, lengths=replace(LENGTHS, now_sd_mm=3.0))
    assert read.results[LENGTH].sd == pytest.approx(np.hypot(0.35, 3.0), rel=0.05)
    assert read.probability(LENGTH) < made.probability(LENGTH)
    assert read.inside_all < made.inside_all
    top = next(m for m in read.matters if m.result == LENGTH)
    assert (top.name, top.source) == ("marks of both legs' length", Source.LANDMARK)
    assert top.total == pytest.approx(9 / (9 + 0.35**2), abs=0.01)


def test_a_length_beside_the_wanted_one_is_outside(tibia) -> None:
    short = sampled(tibia, lengths=replace(LENGTHS, end_mm=-12.0))
    assert short.probability(LENGTH) == 0.0
    assert short.inside_all == 0.0
    meant = sampled(tibia, lengths=replace(LENGTHS, end_mm=-12.0, wanted_mm=-12.0))
    assert meant.probability(LENGTH) == 1.0


def test_values_leave_with_words() -> None:
    assert told("MAD", -3.0).direction == "lateral"
    assert told("MPTA", 87.0).direction == "none"
    assert (told(FRONTAL_DRIFT, -1.5).magnitude, told(FRONTAL_DRIFT, -1.5).direction) == (1.5, "valgus")
    assert told(drift_name(Bone.FEMUR, Plane.SAGITTAL), 2.0).direction == "procurvatum"
    assert told(LENGTH, -4.0).direction == "shorter"
    assert told(OVERLAP, 50.0).unit == "mm"


def test_the_same_seed_gives_the_same_and_another_nearly_the_same(made, tibia) -> None:
    again = sampled(tibia)
    other = sampled(tibia, draws_of=Draws(count=1024, seed=6))
    assert again == made
    assert other != made
    assert other.inside_all == pytest.approx(made.inside_all, abs=0.04)


def test_probabilities_are_shares_of_the_draws(made) -> None:
    # Errors of the readings are normal: compare one probability with its own mean and spread.
    from scipy.stats import norm

    q = made.results["MPTA"]
    inside = norm.cdf(89.5, q.mean, q.sd) - norm.cdf(84.5, q.mean, q.sd)
    assert made.probability("MPTA") == pytest.approx(inside, abs=0.02)
    assert made.inside_all <= min(c.probability for c in made.criteria)
    assert made.inside_all >= 1 - sum(1 - c.probability for c in made.criteria) - 1e-9


def test_the_shares_of_what_matters_add_up_and_follow_the_errors(made, tibia) -> None:
    mpta = [m for m in made.matters if m.result == "MPTA"]
    assert sum(m.first_order for m in mpta) == pytest.approx(1.0, abs=0.08)
    assert mpta[0].total == max(m.total for m in mpta)
    careless = sampled(tibia, Profile(correction_error_deg=4))
    top = next(m for m in careless.matters if m.result == "MPTA")
    assert top.name == "frontal correction in theatre"
    assert top.source is Source.EXECUTION
    drift = [m for m in made.matters if m.result == FRONTAL_DRIFT]
    assert {m.source for m in drift} >= {Source.WALL, Source.EXECUTION}


def test_knowing_what_matters_narrows_the_end(made, tibia) -> None:
    careful = sampled(tibia, Profile(correction_error_deg=0, path_error_mm=0))
    assert careful.results["MPTA"].sd < 0.95 * made.results["MPTA"].sd
    assert careful.inside_all > made.inside_all


def test_an_unsure_end_says_what_to_measure_again(made, tibia) -> None:
    strict = sampled(tibia, Profile(probability_wanted_percent=100))
    caution = next(f for f in strict.findings if f.id == "end-inside-tolerance")
    assert caution.severity is Severity.CAUTION
    again = next(f for f in strict.findings if f.id == "worth-measuring-again")
    assert "film)" in again.words
    easy = sampled(tibia, Profile(probability_wanted_percent=0))
    assert [f.severity for f in easy.findings] == [Severity.NOTE]


def test_without_a_forecast_no_drift_is_drawn(made, tibia) -> None:
    plain = sampled(tibia, forecast=None, lengths=None)
    assert FRONTAL_DRIFT not in plain.results
    assert LENGTH not in plain.results
    assert plain.results["MPTA"].mean == pytest.approx(87.0, abs=0.1)


def test_a_forecast_without_a_number_draws_no_drift(tibia) -> None:
    moments = tibia.forecast.planned.moments
    blank = replace(
        moments[-1],
        frontal=replace(moments[-1].frontal, angulation_deg=None),
        sagittal=replace(moments[-1].sagittal, angulation_deg=None),
    )
    course = replace(tibia.forecast.planned, moments=(*moments[:-1], blank))
    found = sampled(tibia, forecast=replace(tibia.forecast, planned=course))
    assert FRONTAL_DRIFT not in found.results
    assert np.isfinite(found.results["MAD"].mean)


def test_what_matters_is_left_out_where_it_is_not_asked(made, tibia) -> None:
    quick = sampled(tibia, shares=False)
    assert quick.matters == ()
    assert quick.inside_all == made.inside_all
    assert quick.least_sure == min(quick.criteria, key=lambda c: c.probability)


def test_a_reading_without_a_target_is_held_against_the_geometry_not_against_the_drift(made, tibia) -> None:
    target = next(c.target for c in made.criteria if c.name == "LDTA")
    bare = sampled(tibia, forecast=None)
    assert target == pytest.approx(bare.results["LDTA"].mean, abs=0.02)
