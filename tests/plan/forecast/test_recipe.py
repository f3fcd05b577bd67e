from dataclasses import replace

import pytest

from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border
from limbwright.mechanics import Plane
from limbwright.plan.decision import BlockingScrew, ScrewDirection
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.recipe import drill_recipe, steering
from limbwright.practice.profile import Profile


def screw(plan, side: Border, away: float = 10.0) -> BlockingScrew:  # type: ignore[no-untyped-def]
    return BlockingScrew(
        fragment=Fragment.PROXIMAL,
        side=side,
        direction=ScrewDirection.ANTEROPOSTERIOR,
        depth_mm=plan.osteotomy.depth_mm - away,
        from_osteotomy_mm=away,
        offset_mm=plan.nail.thick_diameter_mm / 2 + 2.5,
        diameter_mm=5,
        drill_mm=4.2,
    )


def test_a_recipe_gives_levels_from_both_ends_and_the_order(planned) -> None:
    found = planned(level=100.0, widen_mm=10.0)
    modelled = modelled_bone(found.plan, found.canals, Profile())
    one = drill_recipe(found.plan, screw(found.plan, Border.LATERAL), modelled, steers=False)
    assert one.below_joint_mm == pytest.approx(90.0, abs=1e-6)
    assert one.below_joint_mm + one.above_distal_joint_mm == pytest.approx(360.0, abs=1e-6)
    assert not one.before_reaming
    assert "after reaming" in one.words
    assert "drill 4.2 mm, screw 5 mm" in one.words
    assert drill_recipe(found.plan, screw(found.plan, Border.LATERAL), modelled, steers=True).before_reaming


def test_a_screw_that_cuts_into_the_cortex_goes_in_before_reaming(planned) -> None:
    found = planned(level=180.0, nail=None)
    modelled = modelled_bone(found.plan, found.canals, Profile())
    for side in (Border.POSTERIOR, Border.MEDIAL):
        assert drill_recipe(found.plan, screw(found.plan, side), modelled, steers=False).before_reaming


def test_a_retrograde_recipe_counts_the_other_way(planned) -> None:
    found = planned(bone=Bone.FEMUR, level=250.0, nail="FR-10.7/305")
    modelled = modelled_bone(found.plan, found.canals, Profile())
    distal = replace(screw(found.plan, Border.MEDIAL), fragment=Fragment.DISTAL)
    assert drill_recipe(found.plan, distal, modelled, steers=False).below_joint_mm == pytest.approx(260.0)


def test_a_screw_on_the_concave_side_of_the_old_deformity_steers(planned) -> None:
    found = planned(level=100.0, widen_mm=6.0)
    modelled = modelled_bone(found.plan, found.canals, Profile())
    lateral, medial = (screw(found.plan, side) for side in (Border.LATERAL, Border.MEDIAL))

    def left(one: BlockingScrew):  # type: ignore[no-untyped-def]
        (frontal,) = steering(found.plan, modelled, (one,), Profile(), varus_deg=10.0, procurvatum_deg=0.2)
        return frontal

    # Turned toward varus: the old deformity was valgus, and a lateral screw holds against it.
    held = left(lateral)
    assert held.plane is Plane.FRONTAL
    assert held.residual_bare_deg < held.residual_held_deg <= 0
    assert held.avoided_deg > 0.5
    assert held.path_off_held_mm < held.path_off_bare_mm
    assert left(medial).avoided_deg == pytest.approx(0.0, abs=1e-9)


def test_nothing_is_steered_where_nothing_is_corrected(planned) -> None:
    found = planned()
    modelled = modelled_bone(found.plan, found.canals, Profile())
    assert steering(found.plan, modelled, (), Profile(), varus_deg=0.1, procurvatum_deg=-0.3) == ()
