"""The practice profile's numbers as the small functions of the planner take them."""

from limbwright.implant.nail import Nail
from limbwright.plan.nail_fit import NailRules
from limbwright.plan.nail_in_bone import BlockingRules, NailInBone
from limbwright.plan.path import driving_fragment
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile


def nail_rules(profile: Profile) -> NailRules:
    """Numbers that decide whether a nail fits."""
    return NailRules(
        overlap_mm=profile.overlap_mm,
        exposed_thin_mm=profile.exposed_thin_mm,
        tip_clearance_mm=profile.tip_clearance_to_joint_mm,
        over_reaming_mm=profile.over_reaming_mm,
        reaming_beyond_canal_mm=profile.reaming_beyond_canal_mm,
        cortex_left_mm=profile.cortex_left_mm,
        misfit_mm=profile.nail_straightness_gap_mm,
        hole_to_osteotomy_mm=profile.hole_to_osteotomy_min_mm,
        screws_per_fragment=profile.locking_screws_per_fragment,
    )


def blocking_rules(profile: Profile) -> BlockingRules:
    """Numbers that decide on blocking screws."""
    return BlockingRules(
        gap_mm=profile.canal_gap_for_blocking_screw_mm,
        min_to_osteotomy_mm=profile.blocking_screw_min_to_osteotomy_mm,
        max_to_osteotomy_mm=profile.blocking_screw_max_to_osteotomy_mm,
        diameter_mm=profile.blocking_screw_diameter_mm,
        drill_mm=profile.blocking_screw_drill_mm,
        clearance_mm=profile.blocking_screw_clearance_mm,
        to_hardware_mm=profile.blocking_screw_to_hardware_mm,
        notch_mm=profile.blocking_screw_notch_mm,
        locking_play_mm=profile.locking_play_mm,
        most=profile.blocking_screws_max,
        thick_beyond_mm=profile.thick_beside_blocking_screw_mm,
        worth_deg=profile.blocking_screw_worth_deg,
        source=rule_source(profile, "canal_gap_for_blocking_screw_mm", "blocking_screw_worth_deg"),
    )


def nail_in_bone(nail: Nail, *, osteotomy_depth_mm: float, lengthening_mm: float) -> NailInBone:
    """The nail as blocking screws see it."""
    return NailInBone(
        bone=nail.bone,
        entry_fragment=driving_fragment(nail.direction),
        osteotomy_depth_mm=osteotomy_depth_mm,
        lengthening_mm=lengthening_mm,
        length_mm=nail.length_mm,
        thick_length_mm=nail.thick_length_mm,
        thick_diameter_mm=nail.thick_diameter_mm,
        thin_diameter_mm=nail.thin_diameter_mm,
        hole_depths_mm=tuple(nail.hole_depth_mm(hole) for hole in nail.holes),
        hole_diameter_mm=max((hole.screw_diameter_mm for hole in nail.holes), default=0.0),
    )
