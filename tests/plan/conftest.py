"""Invented legs for the tests of the plan room, built with plain trigonometry and scipy's rotations."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Projection, Side
from limbwright.limb.landmark import Landmark, bone_of, shown_in
from limbwright.limb.reading import Measure
from limbwright.limb.view import Border, Spot, Surface, View, Wall
from limbwright.plan.correction import Correction
from limbwright.plan.decision import BlockingScrew, BonePlan, Osteotomy, ScrewDirection
from limbwright.plan.end_alignment import Aim
from limbwright.plan.goal import Approach
from limbwright.plan.route import route_at

SHAFT_LEVELS = {
    "TIBIA_PROXIMAL": (-85.0, -130.0),
    "TIBIA_MIDDLE": (-165.0, -200.0),
    "TIBIA_DISTAL": (-235.0, -290.0),
    "FEMUR_PROXIMAL": (340.0, 290.0),
    "FEMUR_MIDDLE": (250.0, 200.0),
    "FEMUR_DISTAL": (150.0, 100.0),
}


def tan(deg: float) -> float:
    return float(np.tan(np.radians(deg)))


def femur_shaft_mm(level: float, ama_deg: float) -> float:
    """Lateral coordinate of the femoral shaft at a level above the knee."""
    return -10.0 + level * tan(ama_deg)


def tibia_canal_mm(level: float) -> float:
    """Canal width: 12 mm at the isthmus, flared toward both ends."""
    return 12.0 + 16.0 * ((level + 200.0) / 150.0) ** 2


def femur_canal_mm(level: float) -> float:
    return 13.0 + 16.0 * ((level - 230.0) / 180.0) ** 2


@dataclass
class InventedLeg:
    """Points and walls of a leg, columns anterior, proximal, lateral; deformed by turning what is below."""

    femur_mm: float = 430.0
    tibia_mm: float = 360.0
    ama_deg: float = 6.0
    points: dict[Landmark, np.ndarray] = field(default_factory=dict)
    walls: list[tuple[Projection, Bone, Surface, Border, np.ndarray]] = field(default_factory=list)

    def __post_init__(self) -> None:
        t, f = self.tibia_mm, self.femur_mm
        at = Landmark
        self.points = {
            at.FEMORAL_HEAD_CENTRE: [0, f, 0],
            at.GREATER_TROCHANTER_TIP: [0, f, 60],
            at.FEMORAL_NECK_CENTRE: [0, f - 20, 25],
            at.MEDIAL_FEMORAL_CONDYLE: [0, -30 * tan(2), -30],
            at.LATERAL_FEMORAL_CONDYLE: [0, 30 * tan(2), 30],
            at.DISTAL_FEMORAL_PHYSIS_ANTERIOR: [20, 30 - 20 * tan(7), 0],
            at.DISTAL_FEMORAL_PHYSIS_POSTERIOR: [-20, 30 + 20 * tan(7), 0],
            at.FEMUR_KNEE_CENTRE: [0, 0, 0],
            at.TIBIA_KNEE_CENTRE: [0, 0, 0],
            at.MEDIAL_PLATEAU: [0, -35 * tan(3), -35],
            at.LATERAL_PLATEAU: [0, 35 * tan(3), 35],
            at.PLATEAU_ANTERIOR: [20, 20 * tan(9), 0],
            at.PLATEAU_POSTERIOR: [-20, -20 * tan(9), 0],
            at.TIBIAL_TUBEROSITY: [28, -40, 0],
            at.MEDIAL_PLAFOND: [0, -t - 15 * tan(1), -15],
            at.LATERAL_PLAFOND: [0, -t + 15 * tan(1), 15],
            at.PLAFOND_ANTERIOR: [16, -t + 16 * tan(10), 0],
            at.PLAFOND_POSTERIOR: [-16, -t - 16 * tan(10), 0],
            at.ANKLE_CENTRE: [0, -t, 0],
            at.FIBULAR_HEAD_TIP: [-15, -10, 38],
            at.LATERAL_MALLEOLUS_TIP: [-5, -t - 15, 25],
        }
        for part, levels in SHAFT_LEVELS.items():
            for name, level in zip(("UPPER", "LOWER"), levels, strict=True):
                lateral = femur_shaft_mm(level, self.ama_deg) if part.startswith("FEMUR") else 0.0
                self.points[Landmark[f"{part}_SHAFT_{name}"]] = [0, level, lateral]
        self.points = {k: np.array(v, dtype=float) for k, v in self.points.items()}
        self._trace()

    def _trace(self) -> None:
        for bone, levels in (
            (Bone.TIBIA, np.arange(-25.0, -345.0, -5.0)),
            (Bone.FEMUR, np.arange(385.0, 25.0, -5.0)),
        ):
            canal = tibia_canal_mm(levels) if bone is Bone.TIBIA else femur_canal_mm(levels)
            centre = np.zeros_like(levels) if bone is Bone.TIBIA else femur_shaft_mm(levels, self.ama_deg)
            for surface, half in ((Surface.INNER, canal / 2), (Surface.OUTER, canal / 2 + 7.0)):
                zero = np.zeros_like(levels)
                for projection, border, sign in (
                    (Projection.FRONTAL, Border.MEDIAL, -1),
                    (Projection.FRONTAL, Border.LATERAL, 1),
                    (Projection.SAGITTAL, Border.POSTERIOR, -1),
                    (Projection.SAGITTAL, Border.ANTERIOR, 1),
                ):
                    if projection is Projection.FRONTAL:
                        line = np.column_stack([zero, levels, centre + sign * half])
                    else:
                        line = np.column_stack([sign * half, levels, centre])
                    self.walls.append((projection, bone, surface, border, line))

    def deformed(
        self,
        bone: Bone,
        level: float,
        *,
        varus: float = 0.0,
        procurvatum: float = 0.0,
        external: float = 0.0,
        shift: tuple[float, float, float] = (0.0, 0.0, 0.0),
    ) -> "InventedLeg":
        """Turn everything below a level of a bone about the bone's axis there, then shift it."""
        lateral = femur_shaft_mm(level, self.ama_deg) if bone is Bone.FEMUR else 0.0
        centre = np.array([0.0, level, lateral])
        turn = Rotation.from_rotvec(np.radians([varus, -external, -procurvatum]))

        def below(owner: Bone, y: np.ndarray) -> np.ndarray:
            if bone is Bone.FEMUR and owner is not Bone.FEMUR:
                return np.ones_like(y, dtype=bool)
            if bone is Bone.TIBIA and owner is Bone.FEMUR:
                return np.zeros_like(y, dtype=bool)
            return y < level

        def moved(points: np.ndarray, mask: np.ndarray) -> np.ndarray:
            return np.where(mask[:, None], turn.apply(points - centre) + centre + np.array(shift), points)

        tibial_top = {Landmark.TIBIA_KNEE_CENTRE, Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU}
        for k, p in self.points.items():
            mask = below(bone_of(k), p[None, 1])
            if bone is Bone.TIBIA and k in tibial_top:
                mask = np.zeros_like(mask)
            self.points[k] = moved(p[None], mask)[0]
        self.walls = [(a, b, c, d, moved(w, below(b, w[:, 1]))) for a, b, c, d, w in self.walls]
        return self

    def view(self, projection: Projection, side: Side = Side.RIGHT, *, walls: bool = True) -> View:
        across = 2 if projection is Projection.FRONTAL else 0
        return View(
            side=side,
            projection=projection,
            spots={
                k: Spot(across_mm=float(p[across]) + 70.0, proximal_mm=float(p[1]) - 300.0, sd_mm=1.0)
                for k, p in self.points.items()
                if shown_in(k, projection)
            },
            walls=tuple(
                Wall(
                    bone=b,
                    surface=s,
                    border=border,
                    sd_mm=0.7,
                    across_mm=tuple((w[:, across] + 70.0).tolist()),
                    proximal_mm=tuple((w[:, 1] - 300.0).tolist()),
                )
                for pr, b, s, border, w in self.walls
                if walls and pr is projection
            ),
            scaled=True,
            scale_relative_sd=0.01,
        )


@pytest.fixture(scope="session")
def make_leg() -> Callable[..., InventedLeg]:
    return InventedLeg


HOLES = tuple(
    Hole(end=end, distance_mm=20, direction=way, screw_diameter_mm=5)
    for end, way in (
        (NailEnd.THICK, HoleDirection.MEDIOLATERAL),
        (NailEnd.THIN, HoleDirection.ANTEROPOSTERIOR),
        (NailEnd.THIN, HoleDirection.OBLIQUE),
    )
)
MEASURE = {Bone.TIBIA: (Measure.MPTA, 87.0), Bone.FEMUR: (Measure.MLDFA, 88.0)}


def bone_plan_of(
    made, bone, level, gained, *, frontal=None, sagittal=0.0, retrograde=False, apex=None
) -> BonePlan:  # type: ignore[no-untyped-def]
    """A plan for one bone without the planner: a route, an invented nail, one blocking screw per fragment."""
    direction = Direction.RETROGRADE if retrograde else Direction.ANTEGRADE
    needed = frontal is not None
    measure, value = MEASURE[bone]
    correction = Correction(
        frontal=Aim(measure=measure, value=value, turn_deg=frontal) if needed else Aim(),
        sagittal=Aim(turn_deg=sagittal),
        external_deg=0.0,
        size_deg=0.0,
        apex_below_joint_mm=apex,
        needed=needed,
        reason="",
    )
    route = route_at(
        made,
        bone=bone,
        direction=direction,
        below_joint_mm=level,
        correction=correction,
        lengthening_mm=gained,
    )
    nail = Nail(
        name="demo",
        bone=bone,
        direction=direction,
        thick_diameter_mm=10.7,
        thin_diameter_mm=8,
        length_mm=305,
        stroke_mm=80,
        exposed_thin_mm=30,
        elastic_modulus_gpa=110,
        bend_deg=0 if retrograde else 10,
        bend_depth_mm=0 if retrograde else 50,
        holes=HOLES,
    )
    return BonePlan(
        bone=bone,
        direction=direction,
        approach=Approach.SUPRAPATELLAR,
        lengthening_mm=gained,
        osteotomy=Osteotomy(
            bone=bone,
            depth_mm=route.osteotomy_depth_mm(nail, 3.0),
            below_joint_mm=level,
            above_distal_joint_mm=1.0,
            off_apex_mm=None,
        ),
        path=route.path_of(nail, 3.0),
        rotation_correction_deg=route.rotation_correction_deg,
        nail=nail,
        reamer_mm=12.7,
        blocking_screws=tuple(
            BlockingScrew(
                fragment=fragment,
                side=Border.LATERAL,
                direction=ScrewDirection.ANTEROPOSTERIOR,
                depth_mm=0.0,
                from_osteotomy_mm=10.0,
                offset_mm=8.35,
                diameter_mm=5.0,
                drill_mm=4.2,
            )
            for fragment in SIDES_OF_A_CUT
        ),
        fibula=None,
        pins=(),
        calf_release=None,
    )


@pytest.fixture(scope="session")
def bone_plan() -> Callable[..., BonePlan]:
    return bone_plan_of
