"""The invented catalogue."""

from limbwright.implant.nail import Direction
from limbwright.implant.screw import Purpose
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone


def test_it_says_that_it_is_invented() -> None:
    catalogue = shipped_catalogue()
    assert catalogue.invented
    assert "Invented" in catalogue.title
    assert "Made up" in catalogue.note


def test_it_has_nails_for_every_bone_and_entry_and_screws_for_every_purpose() -> None:
    catalogue = shipped_catalogue()
    for bone, direction in (
        (Bone.TIBIA, Direction.ANTEGRADE),
        (Bone.FEMUR, Direction.ANTEGRADE),
        (Bone.FEMUR, Direction.RETROGRADE),
    ):
        nails = catalogue.nails_for(bone, direction)
        assert {n.thick_diameter_mm for n in nails} == {8.5, 10.7, 12.5}
        assert {n.length_mm for n in nails} >= {245, 275, 305, 335, 365}
    assert all(catalogue.screws_for(purpose) for purpose in Purpose)


def test_every_locking_hole_has_its_screw() -> None:
    catalogue = shipped_catalogue()
    have = {s.diameter_mm for s in catalogue.screws_for(Purpose.LOCKING)}
    assert {hole.screw_diameter_mm for nail in catalogue.nails for hole in nail.holes} <= have
