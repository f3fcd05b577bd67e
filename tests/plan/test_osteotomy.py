import numpy as np
import pytest

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Projection
from limbwright.plan.circumstances import BoneQuality, Zone, ZoneQuality
from limbwright.plan.hardware_limits import Interval
from limbwright.plan.leg import leg_model
from limbwright.plan.osteotomy import (
    area_in_contact,
    bone_line,
    into_shaft,
    level_cost_mm,
    off_apex_table,
    scored_levels,
    width_in_contact,
    zone_at,
)

WHOLE = (Interval(from_mm=70, to_mm=290),)


def levels(**changes):  # type: ignore[no-untyped-def]
    given_values = {
        "bone": Bone.TIBIA,
        "length_mm": 360.0,
        "free": WHOLE,
        "step_mm": 5.0,
        "apex_below_joint_mm": 150.0,
        "correction_deg": 12.0,
        "near_apex_mm": 10.0,
        "metaphysis_preference_mm": 15.0,
        "max_translation_mm": 10.0,
        "judged": (),
        "from_distal": False,
    }
    return scored_levels(**(given_values | changes))


def test_contact_falls_with_the_shift() -> None:
    assert width_in_contact([0, 15, 30, 45], 30.0) == pytest.approx([1, 0.5, 0, 0])
    assert area_in_contact(0, 0, 30, 30) == pytest.approx(1)
    assert area_in_contact(30, 0, 30, 20) == pytest.approx(0, abs=1e-6)
    # Two unit circles one radius apart overlap in (2π/3 - √3/2)/π of either.
    assert area_in_contact(15, 0, 30, 99) == pytest.approx((2 * np.pi / 3 - np.sqrt(3) / 2) / np.pi)


def test_the_table_lists_each_distance() -> None:
    rows = off_apex_table(correction_deg=12, bone_width_mm=30, distances_mm=(-20, 0, 20))
    assert [r.translation_mm for r in rows] == pytest.approx([4.158, 0, 4.158], abs=1e-3)
    assert rows[0].contact_percent == pytest.approx(100 * (1 - 4.158 / 30), abs=0.01)
    assert rows[1].axial_loss_mm == 0


def test_the_apex_itself_is_first_when_nothing_speaks_against_it() -> None:
    best = levels()[0]
    assert best.below_joint_mm == 150
    assert best.off_apex_mm == 0
    assert best.zone is Zone.MIDDLE_SHAFT
    assert "0 mm proximal to the apex" in best.reason()


def test_metaphyseal_bone_is_worth_a_distance_from_the_apex() -> None:
    near = levels(apex_below_joint_mm=95.0)[0]
    assert near.below_joint_mm < 95
    assert levels(apex_below_joint_mm=95.0, metaphysis_preference_mm=0.0)[0].below_joint_mm == 95
    assert into_shaft([60.0, 72, 90, 108, 180, 290], 360.0) == pytest.approx([0, 0, 0.5, 1, 1, 0])


def test_poor_bone_costs_and_infected_bone_is_left_out() -> None:
    judged = (
        ZoneQuality(bone=Bone.TIBIA, zone=Zone.MIDDLE_SHAFT, quality=BoneQuality.SCLEROTIC),
        ZoneQuality(bone=Bone.TIBIA, zone=Zone.DISTAL_SHAFT, quality=BoneQuality.INFECTED_BEFORE),
        ZoneQuality(bone=Bone.FEMUR, zone=Zone.PROXIMAL_SHAFT, quality=BoneQuality.INFECTED_BEFORE),
    )
    found = levels(judged=judged)
    assert all(s.zone is not Zone.DISTAL_SHAFT for s in found)
    assert found[0].zone is Zone.PROXIMAL_SHAFT


def test_levels_that_shift_the_ends_too_far_are_left_out() -> None:
    found = levels(max_translation_mm=4.0)
    assert max(s.translation_mm for s in found) <= 4.0
    assert {s.below_joint_mm for s in found} < {s.below_joint_mm for s in levels()}


def test_without_a_deformity_the_metaphysis_nearest_the_entry_is_first() -> None:
    assert levels(apex_below_joint_mm=None)[0].below_joint_mm == 70
    assert levels(apex_below_joint_mm=None, from_distal=True)[0].below_joint_mm == 290
    assert levels(apex_below_joint_mm=None)[0].reason().endswith("no deformity to correct")


def test_nothing_free_gives_no_level() -> None:
    assert levels(free=()) == ()


def test_cost_takes_batches() -> None:
    cost = level_cost_mm(
        np.array([100.0, 150.0, 200.0]),
        length_mm=360.0,
        apex_below_joint_mm=150.0,
        near_apex_mm=10.0,
        metaphysis_preference_mm=0.0,
        poor_bone=0.0,
    )
    assert cost == pytest.approx([40, 0, 40])


def test_levels_are_counted_between_the_joint_centres(make_leg) -> None:
    leg = make_leg()
    line = bone_line(leg_model(leg.view(Projection.FRONTAL), None), Bone.FEMUR)
    assert line.length_mm == pytest.approx(430)
    assert line.below_joint_mm([0, 330, 25]) == pytest.approx(100)
    assert line.above_distal_joint_mm([0, 330, 25]) == pytest.approx(330)
    assert line.point_mm(100) == pytest.approx([0, 330, 0])


def test_a_level_outside_the_bone_has_no_zone() -> None:
    assert [zone_at(x, 100) for x in (0, 25, 50, 75, 100)] == list(Zone)
    with pytest.raises(OutOfRange, match=r"101\.0 mm lies outside the bone"):
        zone_at(101, 100)
