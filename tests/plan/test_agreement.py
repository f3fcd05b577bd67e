from dataclasses import replace

import pytest

from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.agreement import films_disagree
from limbwright.plan.leg import leg_model


@pytest.mark.parametrize(("sagittal_scale", "bones"), [(1.0, 0), (1.02, 0), (1.06, 2)])
def test_heights_are_compared_within_their_uncertainty(make_leg, sagittal_scale, bones) -> None:
    leg = make_leg()
    found = films_disagree(
        leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL).rescaled(sagittal_scale))
    )
    assert len(found) == bones
    for finding in found:
        assert finding.id == "films-disagree-on-height"
        assert finding.numbers[1].value == pytest.approx(finding.numbers[0].value * 1.06)


def test_what_one_film_does_not_show_is_not_compared(make_leg) -> None:
    leg = make_leg()
    frontal, sagittal = leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL).rescaled(1.06)
    assert films_disagree(leg_model(frontal, None)) == ()
    without = {k: v for k, v in sagittal.spots.items() if k is not Landmark.FEMORAL_HEAD_CENTRE}
    found = films_disagree(leg_model(frontal, replace(sagittal, spots=without)))
    assert ["tibia" in f.words for f in found] == [True]
