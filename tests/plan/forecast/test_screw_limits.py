"""A screw the planner plans is never one that the computation of screws refuses."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border
from limbwright.plan.blocking import POSITIVE_SIDES
from limbwright.plan.circumstances import Examination, HardwareKind, StandingHardware
from limbwright.plan.decision import ScrewDirection
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.screw_limits import BEYOND, screw_limits
from limbwright.plan.forecast.screws import blocking_candidates
from limbwright.practice.profile import Profile

PROFILE = Profile(blocking_screws_max=4, reaming_beyond_canal_mm=6.0)
PLATE = StandingHardware(kind=HardwareKind.PLATE, bone=Bone.TIBIA, from_mm=70, to_mm=95, in_canal=False)


def limits_of(found, profile=PROFILE, hardware=()):  # type: ignore[no-untyped-def]
    modelled = modelled_bone(replace(found.plan, blocking_screws=()), found.canals, profile)
    return screw_limits(modelled, found.plan, found.canals, profile, hardware=hardware)


def below_joint_mm(found, screw):  # type: ignore[no-untyped-def]
    deeper = screw.depth_mm - found.plan.osteotomy.depth_mm
    return found.plan.osteotomy.below_joint_mm + (deeper if found.bone is Bone.TIBIA else -deeper)


@settings(max_examples=25, deadline=None)
@given(
    bone=st.sampled_from([Bone.TIBIA, Bone.FEMUR]),
    level=st.floats(60, 190),
    gained=st.floats(15, 60),
    widen_mm=st.floats(0, 10),
    notch_mm=st.floats(0, 4),
    plate=st.none() | st.tuples(st.floats(20, 200), st.floats(5, 80)),
)
def test_no_planned_screw_is_refused(  # noqa: PLR0917 - what hypothesis draws
    planned, bone, level, gained, widen_mm, notch_mm, plate
) -> None:
    own = replace(PROFILE, blocking_screw_notch_mm=notch_mm)
    hardware = ()
    if plate is not None:
        hardware = (replace(PLATE, bone=bone, from_mm=plate[0], to_mm=sum(plate)),)
    level = level + 150 if bone is Bone.FEMUR else level
    found = planned(
        bone=bone,
        level=level,
        gained=gained,
        nail=None,
        widen_mm=widen_mm,
        profile=own,
        examination=Examination(hardware=hardware),
    )
    if found.plan is None:
        return
    limits = limits_of(found, own, hardware)
    length = found.plan.osteotomy.below_joint_mm + found.plan.osteotomy.above_distal_joint_mm
    for screw in found.plan.blocking_screws:
        assert limits.against(screw.fragment, screw.side, screw.depth_mm) == ""
        # Told again without the limits: the nerve at the neck of the fibula, the plate, the inner cortex.
        below = below_joint_mm(found, screw)
        if bone is Bone.TIBIA and screw.direction is ScrewDirection.MEDIOLATERAL:
            assert below > 0.14 * length - 1e-6
        for item in hardware:
            assert not item.from_mm - 5 < below < item.to_mm + 5
        for canal in found.canals:
            if (canal.fragment is screw.fragment) and (
                (canal.projection == "frontal") == (screw.side in {Border.LATERAL, Border.MEDIAL})
            ):
                low, high = canal.gaps_mm(screw.depth_mm, 0.0)
                wall = float(high if screw.side in POSITIVE_SIDES else low)
                reamed = max(wall, found.plan.reamer_mm / 2)
                assert screw.offset_mm + screw.diameter_mm / 2 <= reamed + notch_mm + 0.05


def test_near_the_neck_of_the_fibula_the_posterior_screw_is_barred_and_said(planned) -> None:
    found = planned(level=65.0, widen_mm=8.0, profile=PROFILE)
    assert not [
        s for s in found.plan.blocking_screws if s.fragment is Fragment.PROXIMAL and s.side == "posterior"
    ]
    said = [f for f in found.findings if f.id == "blocking-screw-barred"]
    assert any("common peroneal nerve" in f.words and "none is planned" in f.words for f in said)


def test_a_plate_bars_the_screws_beside_it(planned) -> None:
    free = planned(level=100.0, widen_mm=8.0, profile=PROFILE)
    assert any(PLATE.from_mm < below_joint_mm(free, s) < PLATE.to_mm for s in free.plan.blocking_screws)
    held = planned(level=100.0, widen_mm=8.0, profile=PROFILE, examination=Examination(hardware=(PLATE,)))
    assert not any(s.fragment is Fragment.PROXIMAL for s in held.plan.blocking_screws)
    said = [f.words for f in held.findings if f.id == "blocking-screw-barred"]
    assert any("from 70 to 95 mm below the joint line" in words for words in said)


def test_one_place_is_judged_as_the_list_of_places_judges_it(planned) -> None:
    found = planned(level=70.0, widen_mm=4.0, profile=PROFILE)
    limits = limits_of(found, hardware=(PLATE,))
    modelled = limits.modelled
    listed = blocking_candidates(modelled, found.plan, found.canals, PROFILE, hardware=(PLATE,))
    assert {c.fits for c in listed} == {True, False}
    for c in listed:
        side = Border(c.screw.side.value)
        assert limits.against(modelled.fragment_of(c.screw.fragment), side, c.screw.depth_mm) == c.against
    assert limits.against(Fragment.PROXIMAL, Border.LATERAL, 0.5) == BEYOND


def test_a_level_beyond_the_nail_bars_every_screw_in_words(planned) -> None:
    found = planned(level=320.0, nail="T-10.7/275", widen_mm=8.0, profile=PROFILE)
    if found.plan is None:
        pytest.fail("a level the surgeon fixed is kept")
    assert found.plan.blocking_screws == ()
