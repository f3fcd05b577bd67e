import pytest

from limbwright.error import Contradiction, OutOfRange
from limbwright.growth.growth import Physis
from limbwright.plan.circumstances import Examination


def test_a_growth_plate_cannot_be_open_and_closed() -> None:
    with pytest.raises(Contradiction, match="distal femur growth plate is seen open and closed"):
        Examination(open_physes=(Physis.DISTAL_FEMUR,), closed_physes=(Physis.DISTAL_FEMUR,))
    Examination(open_physes=(Physis.DISTAL_FEMUR,), closed_physes=(Physis.PROXIMAL_TIBIA,))


def test_an_impossible_cover_of_the_hip_is_refused() -> None:
    with pytest.raises(OutOfRange, match="hip_centre_edge_deg is 95 deg, expected -60 to 80"):
        Examination(hip_centre_edge_deg=95)
