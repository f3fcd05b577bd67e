"""Skin and muscle around standing legs and the lower trunk, as one smooth field."""

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.femur import FemurAxis
from limbwright.film.phantom.field import Bar, BoneField, Ellipsoid, Shaft
from limbwright.film.phantom.materials import Material, attenuation_per_mm, difference_per_mm
from limbwright.film.phantom.mesh import Mesh, Texture, from_field
from limbwright.film.phantom.placement import PlacedLeg
from limbwright.film.phantom.tibia import TibiaAxis
from limbwright.limb.anatomy import Side

Floats = NDArray[np.float64]

# Level along the leg (0 hip, 1 knee, 2 ankle, 2.3 sole), centre in front of the line through the joints and
# lateral of it, half width front to back and side to side, thickness of the fat. mm; engineering judgement.
GIRTH = np.array(
    [
        (-0.35, -12.0, 0.0, 96.0, 78.0, 12.0),
        (0.00, -12.0, 2.0, 94.0, 80.0, 13.0),
        (0.25, -8.0, -4.0, 86.0, 82.0, 12.0),
        (0.55, -4.0, -5.0, 76.0, 74.0, 10.0),
        (0.85, -3.0, -3.0, 62.0, 60.0, 7.0),
        (1.00, -2.0, 0.0, 60.0, 57.0, 5.0),
        (1.10, -10.0, 0.0, 57.0, 55.0, 5.0),
        (1.32, -20.0, 4.0, 59.0, 58.0, 6.0),
        (1.55, -15.0, 3.0, 49.0, 50.0, 5.0),
        (1.80, -7.0, 0.0, 37.0, 37.0, 4.0),
        (1.93, -6.0, 0.0, 38.0, 36.0, 4.0),
        (2.03, -6.0, 0.0, 40.0, 36.0, 4.0),
        (2.10, -8.0, 1.0, 34.0, 28.0, 4.0),
    ]
)

FOLLOWED = (0.2, 0.4, 0.6, 0.8)
"""Levels of each bone at which the flesh follows the shaft."""


def _followed(leg: PlacedLeg, hand: float) -> tuple[Floats, Floats]:
    """Thigh and shank lines through the joints, displaced as bends and cuts displaced the shafts, (n, 3)."""
    found = []
    femur, tibia = FemurAxis(leg.shape), TibiaAxis(leg.shape)
    for axis, now, ends in (
        (femur, leg.femur_now, (femur.head_centre, np.zeros(3))),
        (tibia, leg.tibia_now, (np.zeros(3), tibia.ankle_centre)),
    ):
        shaft = np.stack([axis.at_level(level) for level in FOLLOWED])
        straight = np.stack([ends[0] + level * (ends[1] - ends[0]) for level in FOLLOWED])
        aside = (shaft - straight) * np.array([1.0, 0.0, hand])
        found.append(now(shaft) - aside)
    return found[0], found[1]


def _leg_tube(leg: PlacedLeg, hand: float) -> tuple[Shaft, tuple[float, float]]:
    """Tube around one leg in the patient frame and the heights it reaches."""
    from scipy.interpolate import PchipInterpolator

    hip = leg.into_patient(np.zeros((1, 3)))[0]
    knee = leg.femur_now(np.zeros((1, 3)))[0]
    ankle = leg.tibia_now(np.array([[0.0, -leg.shape.tibia_length_mm, 0.0]]))[0]
    drop = ankle - np.array([0.0, leg.shape.tibia_length_mm * 0.3, 0.0])
    above = hip + (hip - knee) * np.array([0.0, 0.35, 0.0])
    thigh, shank = _followed(leg, hand)
    # A bent bone carries the flesh with it: the line runs where the shaft has moved to.
    places = np.stack([above, hip, *thigh, knee, *shank, ankle, drop])
    steps = [-0.35, 0.0, *FOLLOWED, 1.0, *(1.0 + share for share in FOLLOWED), 2.0, 2.3]
    level = np.linspace(GIRTH[0, 0], GIRTH[-1, 0], 200)
    line = PchipInterpolator(steps, places)(level)
    girth = PchipInterpolator(GIRTH[:, 0], GIRTH[:, 1:])(level)
    size = leg.shape.soft_tissue * np.interp(
        level, [0.0, 1.0, 2.0], [0.5 + 0.5 * leg.shape.bone_width, leg.shape.bone_width, leg.shape.bone_width]
    )
    girth = girth * size[:, None]
    up = np.argsort(line[:, 1])
    line, girth = line[up], girth[up]
    x, z = line[:, 0] + girth[:, 0], line[:, 2] + hand * girth[:, 1]
    shaft = Shaft(
        y_mm=line[:, 1],
        centre_x=x,
        centre_z=z,
        outer_x=girth[:, 2],
        outer_z=girth[:, 3],
        inner_x=girth[:, 2] - girth[:, 4],
        inner_z=girth[:, 3] - girth[:, 4],
    )
    return shaft, (float(line[0, 1]), float(line[-1, 1]))


def _foot_parts(leg: PlacedLeg) -> list[Bar]:
    width = leg.shape.bone_width

    def at(x: float, y: float, z: float) -> tuple[float, float, float]:
        place = leg.into_patient(leg.foot(width * np.array([[x, y, z]])))[0]
        return float(place[0]), float(place[1]), float(place[2])

    return [
        Bar(at(-46.0, -58.0, 0.0), at(-16.0, -52.0, 2.0), 26.0 * width, 27.0 * width),
        Bar(at(-16.0, -52.0, 2.0), at(44.0, -50.0, 0.0), 28.0 * width, 30.0 * width, (1.0, 0.95, 0.9)),
        Bar(at(44.0, -50.0, 0.0), at(112.0, -70.0, 0.0), 32.0 * width, 25.0 * width, (1.0, 1.3, 0.72)),
        Bar(at(112.0, -70.0, 0.0), at(152.0, -73.0, 4.0), 24.0 * width, 14.0 * width, (1.0, 1.25, 0.55)),
    ]


def soft_tissue(legs: tuple[PlacedLeg, ...], hip_distance_mm: float, step_mm: float) -> list[Mesh]:
    """Skin and muscle around one or two legs, patient frame."""
    width = hip_distance_mm / 176.0
    tubes = [_leg_tube(leg, 1.0 if leg.side is Side.RIGHT else -1.0) for leg in legs]
    feet = [part for leg in legs for part in _foot_parts(leg)]
    boxes = np.array([part.box(12.0) for part in feet])
    low = min(float(boxes[:, 1, 0].min()), *(reach[0] for _, reach in tubes))
    sides = [np.abs(tube.centre_z) + tube.outer_z for tube, _ in tubes]
    half = max(190.0 * width, *(float(s.max()) for s in sides), float(np.abs(boxes[:, 2]).max())) + 12.0
    # The grid mirrors onto itself, so that mirrored patients give mirrored films.
    half = step_mm * np.ceil(half / step_mm)
    both = len(legs) == 2
    inner = 0.0 if both else legs[0].hip_z_mm * (1.0 if legs[0].side is Side.RIGHT else -1.0)
    field = BoneField(
        (
            (
                min(-150.0 * width, float(boxes[:, 0, 0].min())),
                max(140.0 * width, float(boxes[:, 0, 1].max())),
            ),
            (low - 8.0, 232.0 * width),
            (-half, half) if both else (inner - 125.0 * width, inner + 125.0 * width),
        ),
        step_mm,
    )
    reach = 40.0 * width
    for tube, (bottom, top) in tubes:
        # Only where the tube can matter: the rest of the grid would cost most of the time.
        x, z = tube.centre_x, tube.centre_z
        box = (
            (float((x - tube.outer_x).min()) - reach, float((x + tube.outer_x).max()) + reach),
            (bottom - reach, top + reach),
            (float((z - tube.outer_z).min()) - reach, float((z + tube.outer_z).max()) + reach),
        )
        field.add(tube, box, blend_mm=24.0 * width)
    for part in feet:
        field.add(part, part.box(30.0), cortex_mm=5.0 * width, blend_mm=26.0 * width)
    trunk = Ellipsoid(
        (-14.0 * width, 92.0 * width, 0.0 if both else inner),
        (108.0 * width, 132.0 * width, 182.0 * width if both else 70.0 * width),
    )
    field.add(trunk, None, cortex_mm=16.0 * width, blend_mm=60.0 * width)
    plain = {"origin_mm": field.origin_mm, "step_mm": step_mm}
    return [
        from_field("skin", field.outer, attenuation_per_mm=attenuation_per_mm(Material.FAT), **plain),  # type: ignore[arg-type] # both keywords are what from_field asks for
        from_field(
            "muscle",
            field.inner,
            attenuation_per_mm=difference_per_mm(Material.MUSCLE, Material.FAT),
            texture=Texture.MUSCLE,
            **plain,  # type: ignore[arg-type] # as above
        ),
    ]
