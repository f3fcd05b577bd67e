import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.limb.formula import FORMULAS
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.patch import assembled
from limbwright.limb.uncertainty import drawn, linear_sd, measured, sensitivities
from limbwright.limb.view import View

FRONTAL = [f for f in FORMULAS if f.projection == "frontal"]


def test_angle_of_a_line_has_the_uncertainty_of_its_ends_over_its_length(frontal):
    view = frontal(sd_mm=0.5)
    ends = Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU

    def tilt(v: View) -> float:
        a, b = (v.spots[end] for end in ends)
        return math.degrees(math.atan2(b.proximal_mm - a.proximal_mm, b.across_mm - a.across_mm))

    assert linear_sd(view, tilt) == pytest.approx(math.degrees(0.5 * math.sqrt(2) / 62), rel=1e-4)


def test_scale_uncertainty_moves_lengths_and_leaves_angles(frontal):
    view = frontal(sd_mm=0.0)
    result = {r.measure: r.value for r in readings(view, age_years=30).values}
    assert result["femur length"].sd == pytest.approx(4.30, rel=1e-6)
    assert result["mLDFA"].sd == pytest.approx(0, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(
    formula=st.sampled_from(FRONTAL),
    which=st.integers(0, 3),
    angle=st.floats(0, 2 * math.pi),
)
def test_a_landmark_moved_by_1_mm_changes_results_as_predicted(frontal, formula, which, angle):
    view = frontal(mldfa=93.0, mpta=81.0)
    landmark = formula.landmarks[which % len(formula.landmarks)]
    across, proximal = math.cos(angle), math.sin(angle)
    (slope,) = sensitivities(view, formula.compute, landmarks=[landmark])
    predicted = slope.per_across_mm * across + slope.per_proximal_mm * proximal
    change = formula.compute(view.moved(landmark, across_mm=across, proximal_mm=proximal)) - formula.compute(
        view
    )
    assert change == pytest.approx(predicted, abs=0.06)  # 1 mm on a joint line of 29 mm is 2 degrees


def test_naming_the_landmarks_does_not_change_the_uncertainty(frontal):
    view = frontal()
    for formula in FRONTAL:
        some = linear_sd(view, formula.compute, landmarks=formula.landmarks)
        assert linear_sd(view, formula.compute) == pytest.approx(some)


def test_random_draws_agree_with_the_linear_rule(frontal):
    view = frontal(mldfa=94.0, mpta=80.0, sd_mm=0.8)
    rng = np.random.Generator(np.random.PCG64(7))
    draws = [drawn(view, rng=rng) for _ in range(4000)]
    for formula in FRONTAL:
        sample = np.array([formula.compute(draw) for draw in draws])
        linear = measured(view, formula.compute, unit=formula.unit)
        assert sample.std(ddof=1) == pytest.approx(linear.sd, rel=0.04)
        assert sample.mean() == pytest.approx(linear.value, abs=5 * linear.sd / math.sqrt(4000) + 0.02)


def test_draws_are_the_same_for_the_same_seed(frontal):
    view = frontal()
    first = drawn(view, rng=np.random.Generator(np.random.PCG64(3)))
    assert first == drawn(view, rng=np.random.Generator(np.random.PCG64(3)))
    assert first != view


def test_joined_films_carry_the_uncertainty_of_the_join(frontal_marks, of_points):
    marks = frontal_marks(mldfa=94.0)
    plateau = {Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU}
    below = {k for k in marks if k.startswith(("tibia", "ankle")) or k.endswith("plafond")} | plateau
    femur = of_points({k: z for k, z in marks.items() if k not in below or k in plateau}, patch="a")
    tibia = of_points({k: marks[k] for k in below}, patch="b")
    joined = assembled((femur, tibia)).view
    hka = next(f for f in FRONTAL if f.measure == "HKA")
    single = linear_sd(of_points(marks), hka.compute)
    # Two plateau ends of 1 mm each on both films, 62 mm apart, turn the tibia film by 1.85 degrees.
    turn = math.degrees(2 / 62)
    assert linear_sd(joined, hka.compute) == pytest.approx(math.hypot(single, turn), rel=0.01)
    rng = np.random.Generator(np.random.PCG64(11))
    sample = np.array([hka.compute(drawn(joined, rng=rng)) for _ in range(3000)])
    assert sample.std(ddof=1) == pytest.approx(linear_sd(joined, hka.compute), rel=0.05)
