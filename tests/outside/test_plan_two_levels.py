"""Two osteotomies of one bone against independent rigid-body arithmetic.

Source of the geometry: several apexes are each undone by their own turn, so that the sum of the turns is the
angle between the end axes (Paley, Principles of Deformity Correction, 2002, chapter 4, from memory; the sum
derived). The end of a plan is rebuilt here from its written lines alone, with scipy's rotations
(scipy.spatial.transform.Rotation) and nothing of the package's own motions.
"""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark, shown_in
from limbwright.limb.view import Spot, View
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.decision import BonePlan, FragmentPath, Place
from limbwright.plan.end_alignment import bone_progress, moved_leg
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.planner import plan_bone
from limbwright.plan.reduction import cuts_of, reductions_of
from limbwright.plan.situation import Angulation, BoneSituation

TIBIA_MM = 360.0
AT = Landmark
STRAIGHT = {
    AT.TIBIA_KNEE_CENTRE: (0, 0, 0),
    AT.MEDIAL_PLATEAU: (0, -1.83, -35),
    AT.LATERAL_PLATEAU: (0, 1.83, 35),
    AT.PLATEAU_ANTERIOR: (20, 3.17, 0),
    AT.PLATEAU_POSTERIOR: (-20, -3.17, 0),
    AT.TIBIA_PROXIMAL_SHAFT_UPPER: (0, -60, 0),
    AT.TIBIA_PROXIMAL_SHAFT_LOWER: (0, -95, 0),
    AT.TIBIA_MIDDLE_SHAFT_UPPER: (0, -125, 0),
    AT.TIBIA_MIDDLE_SHAFT_LOWER: (0, -200, 0),
    AT.TIBIA_DISTAL_SHAFT_UPPER: (0, -235, 0),
    AT.TIBIA_DISTAL_SHAFT_LOWER: (0, -300, 0),
    AT.MEDIAL_PLAFOND: (0, -TIBIA_MM - 0.26, -15),
    AT.LATERAL_PLAFOND: (0, -TIBIA_MM + 0.26, 15),
    AT.PLAFOND_ANTERIOR: (16, -TIBIA_MM + 2.82, 0),
    AT.PLAFOND_POSTERIOR: (-16, -TIBIA_MM - 2.82, 0),
    AT.ANKLE_CENTRE: (0, -TIBIA_MM, 0),
}
APEXES_MM = (110.0, 218.0)
GAIN_MM = 35.0


def bent(turns: tuple[tuple[float, float], tuple[float, float]]) -> dict[Landmark, np.ndarray]:
    """The tibia bent at both levels (varus, procurvatum in degrees), the lower one first."""
    points = {k: np.array(p, dtype=float) for k, p in STRAIGHT.items()}
    for level, (varus, procurvatum) in zip(APEXES_MM[::-1], turns[::-1], strict=True):
        rotation = Rotation.from_rotvec(np.radians([varus, 0.0, -procurvatum]))
        centre = np.array([0.0, -level, 0.0])
        for k, straight in STRAIGHT.items():
            if straight[1] < -level:
                points[k] = rotation.apply(points[k] - centre) + centre
    return points


def as_seen(points: dict[Landmark, np.ndarray]) -> LegModel:
    def view(projection: Projection) -> View:
        across = 2 if projection is Projection.FRONTAL else 0
        return View(
            side=Side.RIGHT,
            projection=projection,
            spots={
                k: Spot(across_mm=float(p[across]), proximal_mm=float(p[1]), sd_mm=1.0)
                for k, p in points.items()
                if shown_in(k, projection)
            },
            walls=(),
            scaled=True,
            scale_relative_sd=0.01,
        )

    return leg_model(view(Projection.FRONTAL), view(Projection.SAGITTAL))


def planned(points: dict[Landmark, np.ndarray], turns, levels: tuple[float, float]) -> BonePlan:  # type: ignore[no-untyped-def]
    """A plan with both levels fixed, the first one lengthened."""
    nail = Nail(
        name="invented",
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        thick_diameter_mm=10.7,
        thin_diameter_mm=8,
        length_mm=335,
        stroke_mm=60,
        exposed_thin_mm=30,
        elastic_modulus_gpa=110,
    )
    found = plan_bone(
        BoneTask(
            leg=as_seen(points),
            direction=Direction.ANTEGRADE,
            lengthening_mm=GAIN_MM,
            situation=BoneSituation(
                bone=Bone.TIBIA,
                length_mm=TIBIA_MM,
                short_mm=GAIN_MM,
                angulations=tuple(
                    Angulation(below_joint_mm=mm, frontal_deg=t[0], sagittal_deg=t[1])
                    for mm, t in zip(APEXES_MM, turns, strict=True)
                ),
            ),
            catalogue=Catalogue(title="invented", nails=(nail,)),
            choice=BoneChoice(
                bone=Bone.TIBIA,
                nail="invented",
                osteotomy_below_joint_mm=levels[0],
                second_osteotomy_below_joint_mm=levels[1],
            ),
        )
    )
    assert found.plan is not None
    return found.plan


def ends(path: FragmentPath) -> tuple[np.ndarray, np.ndarray]:
    def array(place: Place) -> np.ndarray:
        return np.array([place.anterior_mm, place.proximal_mm, place.lateral_mm])

    upper, lower = array(path.upper), array(path.lower)
    return upper, (lower - upper) / np.linalg.norm(lower - upper)


def rebuilt(plan: BonePlan) -> list[Callable[[np.ndarray], np.ndarray]]:
    """Motion of the middle and of the distal fragment to full length, from the written lines alone.

    Each line is brought onto the one above it by the smallest turn, turned about it by what the plan says,
    the points where both cross the cut made to meet; the gain is a slide along the upper line.
    """
    lines = [ends(p) for p in (plan.path.proximal, plan.path.middle, plan.path.distal) if p is not None]
    lengthens_first = plan.second is not None and plan.osteotomy.depth_mm < plan.second.osteotomy.depth_mm
    first = (plan.rotation_correction_deg, GAIN_MM)
    second = (plan.second.rotation_correction_deg, 0.0)  # type: ignore[union-attr]  # two levels are planned
    steps = [first, second] if lengthens_first else [second, first]
    own = []
    for (p, u), (q, v), cut, (external, gain) in zip(
        lines[:-1], lines[1:], cuts_of(plan), steps, strict=True
    ):
        plane, normal = np.array(cut.point_mm), np.array(cut.normal)
        p0 = p + u * ((plane - p) @ normal) / (u @ normal)
        q0 = q + v * ((plane - q) @ normal) / (v @ normal)
        smallest, _ = Rotation.align_vectors([u], [v])
        turn = Rotation.from_rotvec(np.radians(external) * u) * smallest
        own.append((turn, p0 + gain * u - turn.apply(q0)))
    upper, lower = own
    return [
        lambda x: upper[0].apply(x) + upper[1],
        lambda x: upper[0].apply(lower[0].apply(x) + lower[1]) + upper[1],
    ]


@pytest.mark.parametrize("levels", [APEXES_MM, APEXES_MM[::-1], (95.0, 225.0)])
@pytest.mark.parametrize(
    "turns", [((-9.0, 5.0), (8.0, -4.0)), ((12.0, 0.0), (6.0, 7.0)), ((-4.0, -6.0), (-8.0, 3.0))]
)
def test_the_end_of_a_plan_is_what_its_lines_say(turns, levels) -> None:  # type: ignore[no-untyped-def]
    points = bent(turns)
    plan = planned(points, turns, levels)
    leg = as_seen(points)
    end = moved_leg(leg, bone_progress(reductions_of(plan), GAIN_MM))
    middle, distal = rebuilt(plan)
    for landmark in (AT.ANKLE_CENTRE, AT.MEDIAL_PLAFOND, AT.LATERAL_PLAFOND):
        assert end.place_mm(landmark) == pytest.approx(distal(leg.place_mm(landmark)), abs=1e-6)
    between = leg.place_mm(AT.TIBIA_MIDDLE_SHAFT_LOWER)
    assert end.place_mm(AT.TIBIA_MIDDLE_SHAFT_LOWER) == pytest.approx(middle(between), abs=1e-6)


@pytest.mark.parametrize("turns", [((-9.0, 5.0), (8.0, -4.0)), ((12.0, 0.0), (6.0, 7.0))])
def test_cuts_at_the_apexes_make_the_bone_straight_again(turns) -> None:  # type: ignore[no-untyped-def]
    """The distal joint comes back below the proximal one, tilted by nothing, the gain lower.

    Off by less than a millimetre: a film shows the levels along the bent bone, not the apexes themselves.
    """
    points = bent(turns)
    plan = planned(points, turns, APEXES_MM)
    _middle, distal = rebuilt(plan)
    straight = np.array([STRAIGHT[AT.ANKLE_CENTRE]]) - [0.0, GAIN_MM, 0.0]
    assert distal(points[AT.ANKLE_CENTRE]) == pytest.approx(straight[0], abs=1.0)
    across = points[AT.LATERAL_PLAFOND] - points[AT.MEDIAL_PLAFOND]
    back = distal(points[AT.LATERAL_PLAFOND]) - distal(points[AT.MEDIAL_PLAFOND])
    wanted = np.subtract(STRAIGHT[AT.LATERAL_PLAFOND], STRAIGHT[AT.MEDIAL_PLAFOND])
    assert np.linalg.norm(across) == pytest.approx(np.linalg.norm(wanted))
    assert back[1:] == pytest.approx(wanted[1:], abs=0.15)
    # Bends in two planes turn the distal part a little about the bone, which no film shows: below 2 degrees.
    assert abs(back[0]) < 30 * np.sin(np.radians(2))


def test_the_turns_of_both_levels_add_up_to_the_angle_between_the_ends() -> None:
    """In one plane the two turns are the signed sum of the apexes (derived)."""
    turns = ((-9.0, 0.0), (5.0, 0.0))
    plan = planned(bent(turns), turns, APEXES_MM)
    sizes = [r.motion.angle_deg() for r in reductions_of(plan)]
    assert sizes == pytest.approx([9.0, 5.0], abs=0.3)
    proximal, distal = (ends(p)[1] for p in (plan.path.proximal, plan.path.distal))
    between = np.degrees(np.arccos(np.clip(proximal @ distal, -1, 1)))
    assert between == pytest.approx(abs(sizes[0] - sizes[1]), abs=1e-6)
