"""What surgeons and bench tests found, against the model: directions and orders of magnitude.

Each check names its source; "common practice, no source" where there is none. They do not validate the model.
"""

import math
from dataclasses import replace

import pytest

from limbwright.mechanics import (
    BlockingScrew,
    Construct,
    Fragment,
    Load,
    LockingScrew,
    NailBeam,
    Plane,
    Region,
    ScrewDirection,
    Side,
    concave_side,
    flared_canal,
    lever_arm_mm,
    solve,
    straight_canal,
    tissue_pull,
)

AP, ML = ScrewDirection.ANTEROPOSTERIOR, ScrewDirection.MEDIOLATERAL


def tibia(
    *screws: BlockingScrew, canal_mm: float = 14.0, thick_mm: float = 10.7, cut_mm: float = 120.0
) -> Construct:
    """Invented proximal tibial lengthening."""
    return Construct(
        nail=NailBeam(
            length_mm=300,
            exposed_rod_mm=30,
            thick_diameter_mm=thick_mm,
            thin_diameter_mm=0.75 * thick_mm,
            modulus_gpa=110,
        ),
        osteotomy_depth_mm=cut_mm,
        entry_canal=straight_canal(diameter_mm=canal_mm, start_depth_mm=40, end_depth_mm=cut_mm),
        moving_canal=straight_canal(diameter_mm=canal_mm, start_depth_mm=cut_mm, end_depth_mm=300),
        locking_screws=tuple(
            LockingScrew(fragment=f, depth_mm=z, direction=d, play_mm=0.15)
            for f, z, d in (
                (Fragment.ENTRY, 35, AP),
                (Fragment.ENTRY, 25, ML),
                (Fragment.MOVING, 275, ML),
                (Fragment.MOVING, 285, AP),
            )
        ),
        blocking_screws=screws,
    )


def screw(side: Side, depth_mm: float = 110.0, cut_mm: float = 120.0) -> BlockingScrew:
    fragment = Fragment.ENTRY if depth_mm < cut_mm else Fragment.MOVING
    return BlockingScrew(fragment=fragment, depth_mm=depth_mm, side=side, clearance_mm=0.3)


def drift(
    construct: Construct, gained_mm: float = 40.0, region: Region = Region.PROXIMAL_TIBIA
) -> tuple[float, float]:
    """Frontal and sagittal angulation under the tabulated pull."""
    load = tissue_pull(region).load(gained_mm)
    frontal, sagittal = (
        solve(construct, plane, load.in_plane(plane), lengthening_mm=gained_mm).angulation_deg
        for plane in Plane
    )
    return frontal, sagittal


def test_proximal_tibia_goes_into_valgus_and_procurvatum():
    """Wright, Goodier & Calder 2020, Strategies Trauma Limb Reconstr 15(2):98 (read)."""
    frontal, sagittal = drift(tibia())
    assert frontal < -0.5
    assert sagittal > 0.5


def test_lateral_and_posterior_screws_help_a_tibia_medial_and_anterior_do_not():
    """Common practice, no source; sides as in Muthusamy 2016, STLR 11(3):199, table 1."""
    none = drift(tibia())
    lateral, medial = drift(tibia(screw(Side.LATERAL))), drift(tibia(screw(Side.MEDIAL)))
    posterior, anterior = drift(tibia(screw(Side.POSTERIOR))), drift(tibia(screw(Side.ANTERIOR)))
    assert abs(lateral[0]) < abs(none[0]) - 0.5
    assert medial[0] == pytest.approx(none[0], abs=1e-6)
    assert posterior[1] < none[1] - 0.5
    assert anterior[1] == pytest.approx(none[1], abs=1e-6)


@pytest.mark.parametrize("region", Region)
def test_screws_belong_on_the_concave_side_near_the_cut(region):
    """Krettek 1999 and Paley 2002 (memory): concave side, near the cut; Muthusamy 2016, table 1 (read)."""
    none = drift(tibia(), region=region)
    for i, plane in enumerate(Plane):
        sign = math.copysign(1.0, lever_arm_mm(region, plane))
        side = concave_side(plane, sign)
        near, far = (drift(tibia(screw(side, z)), region=region)[i] for z in (110, 70))
        wrong = drift(tibia(screw(side.opposite)), region=region)[i]
        assert abs(near) < abs(far) < abs(none[i])
        assert abs(wrong) >= abs(none[i]) - 1e-6


def test_narrower_nail_wider_canal_and_longer_lengthening_drift_more():
    """Common practice, no source."""
    base = drift(tibia())
    assert abs(drift(tibia(thick_mm=8.5))[0]) > abs(base[0]) + 0.5
    assert abs(drift(tibia(canal_mm=16.0))[0]) > abs(base[0]) + 0.5
    gained = [abs(drift(tibia(), mm)[0]) for mm in (10, 25, 40, 60)]
    assert gained == sorted(gained)
    assert gained[-1] > gained[0] + 0.3


def test_a_nail_lying_on_the_cortex_gains_nothing_from_a_screw():
    """Common practice, no source: a nail plastered to the wall on that side leaves nothing to block."""
    canal = tibia().entry_canal
    lying = replace(canal, frontal=canal.frontal.shifted(-1.65))
    none = replace(tibia(), entry_canal=lying)
    blocked = replace(tibia(screw(Side.LATERAL)), entry_canal=lying)
    assert drift(blocked)[0] == pytest.approx(drift(none)[0], abs=1e-6)


def test_mismatch_without_a_screw_moves_more_with_a_screw_it_does_not():
    """Bone Joint Res 2022 11(3), finite elements of short nails with 8-10 mm mismatch (abstract read).

    Motion grew with the mismatch only without a blocking screw.
    """
    load = Load(moment_nm=-5)

    def turned(canal_mm: float, *screws: BlockingScrew) -> float:
        return abs(solve(tibia(*screws, canal_mm=canal_mm), Plane.FRONTAL, load).angulation_deg)

    both = (screw(Side.LATERAL, 110), screw(Side.LATERAL, 130))
    assert turned(20.7) - turned(18.7) > 0.25
    assert turned(20.7, *both) == pytest.approx(turned(18.7, *both), abs=0.05)


def test_two_screws_cut_the_deformation_by_a_quarter_to_six_tenths():
    """Krettek et al. 1999, J Orthop Trauma (memory): 25 % less in proximal, 57 % in distal tibiae.

    Order of magnitude only: the model's nail, canal and load are not theirs.
    """
    load = Load(moment_nm=-5)
    flare = {
        "isthmus_diameter_mm": 12.0,
        "isthmus_depth_mm": 170.0,
        "flare_mm": 25.0,
        "flare_length_mm": 170.0,
    }
    built = replace(
        tibia(cut_mm=110.0),
        entry_canal=flared_canal(start_depth_mm=40, end_depth_mm=110, **flare),
        moving_canal=flared_canal(start_depth_mm=110, end_depth_mm=300, **flare),
    )
    pair = built.with_blocking_screws(screw(Side.LATERAL, 100, 110.0), screw(Side.MEDIAL, 60, 110.0))
    before = abs(solve(built, Plane.FRONTAL, load).angulation_deg)
    after = abs(solve(pair, Plane.FRONTAL, load).angulation_deg)
    assert 0.2 < 1 - after / before < 0.8


def test_screw_cuts_motion_of_a_loose_nail_to_a_third():
    """Retrograde femur model, Arch Orthop Trauma Surg, doi 10.1007/s00402-021-04280-6 (abstract read).

    Frontal motion 2.0 mm with a blocking screw against 6.86 mm without: a factor of 3.4.
    Order of magnitude only.
    """
    load = Load(force_n=20, force_beyond_osteotomy_mm=150)
    loose = tibia(canal_mm=22.0)
    loose = replace(loose, locking_screws=tuple(s for s in loose.locking_screws if s.direction is ML))
    blocked = loose.with_blocking_screws(
        *(screw(side, z) for side in (Side.LATERAL, Side.MEDIAL) for z in (110, 130))
    )
    motion = [abs(solve(c, Plane.FRONTAL, load).shift_mm(0)) for c in (loose, blocked)]
    assert 2 < motion[0] / motion[1] < 20


def test_nail_slides_along_mediolateral_locks_in_a_wide_metaphysis():
    """Krettek et al. 1999, J Bone Joint Surg Br (first page read): it slides along mediolateral locks."""
    load = Load(force_n=50)
    wide = replace(
        tibia(canal_mm=20), locking_screws=tuple(s for s in tibia().locking_screws if s.direction is ML)
    )
    assert abs(solve(wide, Plane.FRONTAL, load).step_mm) > 4
    stopped = wide.with_blocking_screws(screw(Side.LATERAL, 110), screw(Side.MEDIAL, 130))
    assert abs(solve(stopped, Plane.FRONTAL, load).step_mm) < 2
