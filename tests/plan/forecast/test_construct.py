from dataclasses import replace

import numpy as np
import pytest

from limbwright.implant.nail import Hole, HoleDirection, NailEnd
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.view import Border
from limbwright.mechanics import Fragment as Part
from limbwright.mechanics import Plane, ScrewDirection, Side
from limbwright.plan.decision import BlockingScrew
from limbwright.plan.decision import ScrewDirection as Driven
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.practice.profile import Profile


def screw(depth: float, fragment: Fragment, side: Border, offset: float = 8.35) -> BlockingScrew:
    return BlockingScrew(
        fragment=fragment,
        side=side,
        direction=Driven.ANTEROPOSTERIOR,
        depth_mm=depth,
        from_osteotomy_mm=10,
        offset_mm=offset,
        diameter_mm=5,
        drill_mm=4.2,
    )


def test_walls_are_the_traced_canal_or_the_bore_whichever_is_wider(planned) -> None:
    found = planned()
    made = modelled_bone(found.plan, found.canals, Profile())
    walls = made.construct.moving_canal.frontal
    canal = next(
        c for c in found.canals if c.fragment is Fragment.DISTAL and c.projection is Projection.FRONTAL
    )
    width = np.subtract(walls.positive_mm, walls.negative_mm)
    traced = canal.width_mm(walls.depth_mm)
    assert np.all(width >= found.plan.reamer_mm - 1e-9)
    wide = traced > found.plan.reamer_mm + 2
    assert wide.any()
    assert np.allclose(width[wide], traced[wide], atol=1e-9)
    assert made.untraced == ()
    assert made.findings == ()


def test_the_bore_follows_the_bend_of_the_nail_in_its_plane_only(planned) -> None:
    found = planned(walls=False)
    made = modelled_bone(found.plan, found.canals, Profile()).construct
    bend = np.tan(np.radians(found.plan.nail.bend_deg)) * (found.plan.nail.bend_depth_mm - 1.0)
    assert made.entry_canal.sagittal.positive_mm[0] == pytest.approx(bend + found.plan.reamer_mm / 2)
    assert made.entry_canal.frontal.positive_mm[0] == pytest.approx(found.plan.reamer_mm / 2)
    assert made.nail.bend_deg == found.plan.nail.bend_deg


def test_a_frontal_bend_goes_into_the_walls(planned) -> None:
    found = planned(walls=False)
    plan = replace(found.plan, nail=replace(found.plan.nail, bend_plane=Projection.FRONTAL))
    made = modelled_bone(plan, (), Profile()).construct
    assert made.nail.bend_deg == 0.0
    # Told from the bent nail's own centre line, its bore is centred.
    assert made.entry_canal.frontal.positive_mm[0] == pytest.approx(plan.reamer_mm / 2)
    assert made.entry_canal.frontal.negative_mm[0] == pytest.approx(-plan.reamer_mm / 2)


def test_a_film_that_is_missing_is_stood_in_for_by_the_other_and_said(planned) -> None:
    found = planned(sagittal=False)
    made = modelled_bone(found.plan, found.canals, Profile())
    assert {p for _f, p in made.untraced} == {Projection.SAGITTAL}
    sagittal, frontal = (made.construct.moving_canal.in_plane(p) for p in (Plane.SAGITTAL, Plane.FRONTAL))
    assert sagittal.positive_mm[-1] == pytest.approx((frontal.positive_mm[-1] - frontal.negative_mm[-1]) / 2)
    assert [f.id for f in made.findings] == ["forecast-canal-idealised"]
    assert "as wide as on the other film" in made.findings[0].words


def test_without_any_wall_the_bore_is_the_canal_and_the_words_call_it_a_lower_bound(planned) -> None:
    found = planned(walls=False)
    made = modelled_bone(found.plan, found.canals, Profile())
    assert len(made.untraced) == 4
    assert "can only be larger" in made.findings[0].words
    assert "on the other film and" not in made.findings[0].words


def test_locking_screws_come_from_the_holes_that_are_used(planned) -> None:
    found = planned()
    nail = found.plan.nail
    beyond = Hole(
        end=NailEnd.THICK, distance_mm=200, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=5
    )
    oblique = Hole(end=NailEnd.THIN, distance_mm=15, direction=HoleDirection.OBLIQUE, screw_diameter_mm=5)
    plan = replace(found.plan, nail=replace(nail, holes=(*nail.holes, beyond, oblique)))
    locks = modelled_bone(plan, found.canals, Profile(locking_play_mm=0.2)).construct.locking_screws
    assert 200.0 not in [s.depth_mm for s in locks]
    slanted = [s for s in locks if s.depth_mm == nail.length_mm - 15]
    assert {s.direction for s in slanted} == set(ScrewDirection)
    assert slanted[0].play_mm == pytest.approx(0.2 * 2**0.5)
    assert sum(s.fragment is Part.ENTRY for s in locks) == 2


def test_a_blocking_screw_keeps_side_level_and_clearance(planned) -> None:
    found = planned()
    depth = found.plan.osteotomy.depth_mm - 10
    plan = replace(found.plan, blocking_screws=(screw(depth, Fragment.PROXIMAL, Border.LATERAL),))
    got = modelled_bone(plan, found.canals, Profile(blocking_screw_stiffness_n_per_mm=900)).construct
    (one,) = got.blocking_screws
    assert (one.side, one.depth_mm, one.fragment) == (Side.LATERAL, depth, Part.ENTRY)
    assert one.clearance_mm == pytest.approx(8.35 - 10.7 / 2 - 2.5)
    assert one.stiffness_n_per_mm == 900


def test_a_retrograde_nail_moves_the_proximal_fragment(planned) -> None:
    found = planned(bone=Bone.FEMUR, level=250.0, nail="FR-10.7/305")
    made = modelled_bone(found.plan, found.canals, Profile())
    assert made.fragment_of(Part.MOVING) is Fragment.PROXIMAL
    assert made.part_of(Fragment.DISTAL) is Part.ENTRY
    assert made.distal_sign == -1.0
