from dataclasses import replace

import numpy as np
import pytest

from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.drift import Drift
from limbwright.plan.uncertainty.chain import SLIPS, BoneEnd, Slip, end_chain, end_values


@pytest.fixture(scope="module")
def chain(tibia):  # type: ignore[no-untyped-def]
    drift = Drift(varus_deg=-1.0, procurvatum_deg=0.5)
    return end_chain(tibia.leg, [BoneEnd(plan=tibia.found.plan, slip=Slip.of_drift(drift))])


def test_the_planned_end_holds_the_expected_drift(tibia, chain) -> None:
    plain = end_values(tibia.leg, [BoneEnd(plan=tibia.found.plan)], (Measure.MPTA,))[0]
    assert plain == pytest.approx(87.0, abs=0.01)
    with_drift = chain.planned[chain.measures.index(Measure.MPTA)]
    # One degree of valgus of the distal fragment opens the medial angle, by less than the whole degree.
    assert 87.3 < with_drift < 88.0


def test_errors_of_marks_and_execution_together_are_those_of_the_exact_chain(tibia, chain) -> None:
    rng = np.random.Generator(np.random.PCG64(3))
    for _ in range(5):
        marks = rng.normal(size=(len(chain.marks), 2)) * chain.mark_sd[:, None]
        slips = rng.normal(size=5) * np.array([1.0, 1.0, 0.5, 0.5, 3.0])
        leg = tibia.leg
        for name, (across, along) in zip(chain.marks, marks, strict=True):
            words, film = name.rsplit(" (", 1)
            projection = Projection(film.split()[0])
            points = dict(leg.points(projection))
            landmark = next(k for k in points if k.value.replace("_", " ") == words)
            point = points[landmark]
            axis = "lateral_mm" if projection is Projection.FRONTAL else "anterior_mm"
            points[landmark] = replace(
                point,
                proximal_mm=point.proximal_mm + along,
                **{axis: getattr(point, axis) + across},
            )
            field = "frontal" if projection is Projection.FRONTAL else "sagittal"
            leg = replace(leg, **{field: points})
        slip = Slip(
            **{
                name: value + start
                for name, value, start in zip(SLIPS, slips, (-1.0, 0.5, 0, 0, 0), strict=True)
            }
        )
        exact = end_values(leg, [BoneEnd(plan=tibia.found.plan, slip=slip)], chain.measures)
        linear = chain.planned + np.einsum("ka,mka->m", marks, chain.by_mark) + chain.by_slip[:, 0] @ slips
        # The plafond's line on the sagittal film is short: errors of its ends do not add up so exactly.
        tolerance = np.where([m is Measure.ADTA for m in chain.measures], 0.8, 0.3)
        assert (np.abs(exact - linear) < tolerance).all()


def test_only_landmarks_of_the_bones_readings_count(chain) -> None:
    named = " ".join(chain.marks)
    assert "medial plateau (frontal film)" in named
    assert Landmark.GREATER_TROCHANTER_TIP.value.replace("_", " ") not in named


def test_without_a_sagittal_film_only_the_frontal_readings_are_there(tibia) -> None:
    flat = replace(tibia.leg, sagittal={}, sagittal_scale_sd=None, walls=())
    found = end_chain(flat, [BoneEnd(plan=tibia.found.plan)])
    assert set(found.measures) == {Measure.MAD, Measure.MPTA, Measure.LDTA}


def test_slopes_by_landmark_are_taken_over_from_a_plan_that_ends_alike(tibia, chain) -> None:
    end = BoneEnd(plan=tibia.found.plan, slip=Slip(varus_deg=0.5))
    near = end_chain(tibia.leg, [end], near=chain)
    own = end_chain(tibia.leg, [end])
    assert near.by_mark is chain.by_mark
    assert near.planned == pytest.approx(own.planned)
    assert near.by_mark == pytest.approx(own.by_mark, abs=0.03)


def test_a_drift_enters_with_its_shift() -> None:
    drift = Drift(varus_deg=1.0, procurvatum_deg=-2.0, lateral_mm=3.0, anterior_mm=-4.0)
    assert Slip.of_drift(drift) == Slip(varus_deg=1, procurvatum_deg=-2, lateral_mm=3, anterior_mm=-4)
    assert Slip.of_drift(None) == Slip()
