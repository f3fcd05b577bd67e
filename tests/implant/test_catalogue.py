"""The catalogue as a value."""

from dataclasses import replace

import pytest

from limbwright.error import Contradiction, Missing
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction
from limbwright.implant.screw import Purpose
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone


def test_nails_for_a_bone_come_thinnest_then_shortest() -> None:
    nails = shipped_catalogue().nails_for(Bone.TIBIA, Direction.ANTEGRADE)
    sizes = [(n.thick_diameter_mm, n.length_mm) for n in nails]
    assert sizes == sorted(sizes)
    assert {n.bone for n in nails} == {Bone.TIBIA}
    assert len(nails) == 15


def test_a_nail_is_found_by_name_and_near_names_are_offered() -> None:
    catalogue = shipped_catalogue()
    assert catalogue.nail("T-10.7/305").length_mm == 305
    with pytest.raises(Missing, match=r"no nail 'T-10\.7/306'.*Nearest names: .*T-10\.7/305"):
        catalogue.nail("T-10.7/306")
    with pytest.raises(Missing, match="Add it to the catalogue file"):
        Catalogue(title="empty").nail("x")


def test_screws_for_a_purpose_come_thinnest_first() -> None:
    assert [s.diameter_mm for s in shipped_catalogue().screws_for(Purpose.BLOCKING)] == [4, 5]


def test_two_nails_of_one_name_are_refused() -> None:
    nail = shipped_catalogue().nails[0]
    with pytest.raises(Contradiction, match=r"1 name\(s\) stand twice among the nails: 'T-8\.5/245'"):
        Catalogue(title="twice", nails=(nail, replace(nail, stroke_mm=40)))
