from dataclasses import replace

import numpy as np
import pytest

from limbwright.finding import Severity
from limbwright.limb.reading import Measure
from limbwright.mechanics import Plane
from limbwright.plan.uncertainty.uncertainty import Draws, LengthsOfLeg, plan_uncertainty
from limbwright.plan.uncertainty.values import LENGTH, OVERLAP, Source, drift_name
from limbwright.practice.profile import Profile

LENGTHS = LengthsOfLeg(now_mm=-35.0, end_mm=0.5)
FEW = Draws(count=1024, seed=5)


def sampled(tibia, profile=Profile(), **changes):  # type: ignore[no-untyped-def]  # noqa: B008
    return plan_uncertainty(
        tibia.leg,
        tibia.found.plan,
        profile,
        targets={Measure.MPTA: 87.0},
        **{"forecast": tibia.forecast, "lengths": LENGTHS, "draws_of": FEW, **changes},
    )


@pytest.fixture(scope="module")
def made(tibia):  # type: ignore[no-untyped-def]
    return sampled(tibia)


def test_every_result_is_distributed_about_what_is_planned(made, tibia) -> None:
    drift = tibia.forecast.planned.drift()
    assert made.results[drift_name(Plane.FRONTAL)].value[3] == pytest.approx(drift.varus_deg, abs=0.3)
    assert made.results[LENGTH].mean == pytest.approx(0.5, abs=0.02)
    # 1 % of scale on 35 mm that were read; the length gained is the nail's own.
    assert made.results[LENGTH].sd == pytest.approx(0.35, rel=0.05)
    assert made.results[OVERLAP].sd == pytest.approx(3.0, rel=0.05)
    assert made.results["MPTA"].value == tuple(sorted(made.results["MPTA"].value))


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
    drift = [m for m in made.matters if m.result == drift_name(Plane.FRONTAL)]
    assert {m.source for m in drift} >= {Source.WALL, Source.EXECUTION}


def test_knowing_what_matters_narrows_the_end(made, tibia) -> None:
    careful = sampled(tibia, Profile(correction_error_deg=0, path_error_mm=0))
    assert careful.results["MPTA"].sd < 0.9 * made.results["MPTA"].sd
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
    assert drift_name(Plane.FRONTAL) not in plain.results
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
    assert drift_name(Plane.FRONTAL) not in found.results
    assert np.isfinite(found.results["MAD"].mean)
