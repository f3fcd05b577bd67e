"""Nails, screws, pins, new bone, and scale objects as closed meshes."""

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.bones import CORTEX
from limbwright.film.phantom.femur import FemurAxis
from limbwright.film.phantom.hardware import Hardware, Lengthening, Nail, Regenerate, RegenerateShape, Screw
from limbwright.film.phantom.materials import Material, difference_per_mm
from limbwright.film.phantom.mesh import Mesh, Texture, rod, swept
from limbwright.film.phantom.motion import Break, moved
from limbwright.film.phantom.placement import PlacedLeg, Rigid
from limbwright.film.phantom.tibia import TibiaAxis
from limbwright.limb.anatomy import Bone

Floats = NDArray[np.float64]
METAL = difference_per_mm(Material.TITANIUM_ALLOY, Material.SPONGY_BONE)
"""Titanium alloy in place of spongy bone; in marrow or cortex it is off by less than 10 %. [1/mm]"""


def _bone(leg: PlacedLeg, bone: Bone) -> tuple[FemurAxis | TibiaAxis, tuple[Break, ...], Rigid]:
    if bone is Bone.FEMUR:
        return FemurAxis(leg.shape), leg.femur_breaks, leg.femur
    return TibiaAxis(leg.shape), leg.tibia_breaks, leg.tibia


def _sections(leg: PlacedLeg, bone: Bone, level: float) -> tuple[float, float]:
    """Outer half widths (front to back, side to side) of a shaft at a level. [mm]"""
    parts = leg.shape.femur_shaft if bone is Bone.FEMUR else leg.shape.tibia_shaft
    levels = [part.level for part in parts]
    return (
        float(np.interp(level, levels, [part.outer_anteroposterior_mm / 2 for part in parts])),
        float(np.interp(level, levels, [part.outer_mediolateral_mm / 2 for part in parts])),
    )


def nail_line(leg: PlacedLeg, nail: Nail, drawn_out_mm: float) -> tuple[Floats, Floats]:
    """Axis of a nail: points (n, 3) in the bone's frame and their distance from the upper end, mm.

    The nail is straight along the shaft between its bend and the cut; it follows the upper fragment.
    """
    axis, breaks, _ = _bone(leg, nail.bone)
    cut = next((item for item in breaks if item.cut), None)
    top = axis.at_level(nail.top_level)
    # Chord of the shaft over the part of the thick segment that fills the isthmus.
    low = axis.at_level(min(0.9, nail.top_level + nail.thick_length_mm / axis.length_mm))
    along = cut.along if cut is not None else low - top
    along = along / np.linalg.norm(along)
    anchor = cut.pivot if cut is not None else low
    start = anchor + along * float((top - anchor) @ along)
    start = start + np.array([nail.anterior_mm, 0.0, nail.lateral_mm])
    length = nail.length_mm + drawn_out_mm
    depth = np.unique(
        np.concatenate([np.linspace(0.0, length, 120), [nail.bend_depth_mm, nail.thick_length_mm]])
    )
    points = start + depth[:, None] * along
    if nail.bend_deg > 0:
        # The upper end leans forward, apex of the bend posterior: turn what lies above the bend about it.
        lean = np.radians(nail.bend_deg)
        hinge = start + nail.bend_depth_mm * along
        above = np.clip(nail.bend_depth_mm - depth, 0.0, None)
        forward = np.array([1.0, 0.0, 0.0])
        direction = -along * np.cos(lean) + forward * np.sin(lean)
        points = np.where((above > 0)[:, None], hinge + above[:, None] * direction, points)
    return points, depth


def placed_nail(leg: PlacedLeg, nail: Nail, hardware: Hardware) -> tuple[Floats, Floats]:
    """Axis of a nail as it lies now: points (n, 3) in the hip frame, distances from its upper end. [mm]"""
    axis, breaks, frame = _bone(leg, nail.bone)
    drawn = sum(cut.gap_mm for cut in hardware.cuts_of(nail.bone))
    line, depth = nail_line(leg, nail, drawn)
    # The nail stays straight and moves with the fragment it is locked in, the one just above the cut.
    cut = next((item for item in breaks if item.cut), None)
    above = cut.pivot - 20.0 * cut.along if cut is not None else axis.at_level(0.35)
    return frame(_rigid_at(above, breaks, distal=False)(line)), depth


def gap_ends(leg: PlacedLeg, cut: Lengthening) -> tuple[Floats, Floats]:
    """Middle of the cut faces of both fragments as they lie now. Two of shape (3,), hip frame, mm."""
    _, breaks, frame = _bone(leg, cut.bone)
    (place,) = (item for item in breaks if item.cut)
    upper, lower = (moved(place.pivot[None], breaks, beyond_cut=beyond) for beyond in (False, True))
    return frame(upper)[0], frame(lower)[0]


def _nail_meshes(leg: PlacedLeg, nail: Nail, hardware: Hardware) -> list[Mesh]:
    drawn = sum(cut.gap_mm for cut in hardware.cuts_of(nail.bone))
    line, depth = placed_nail(leg, nail, hardware)
    pieces = []
    thick = depth <= nail.thick_length_mm
    for part, diameter in ((thick, nail.thick_mm), (depth >= nail.thick_length_mm - 2.0, nail.thin_mm)):
        ends = line[part]
        half = np.full(len(ends), diameter / 2.0)
        half[0] = half[-1] = 0.42 * diameter
        pieces.append(swept("nail", ends, half, half, attenuation_per_mm=METAL))
    for hole in nail.holes_mm:
        at = hole + (drawn if hole > nail.thick_length_mm else 0.0)
        width = (nail.thick_mm if hole <= nail.thick_length_mm else nail.thin_mm) * 0.5
        centre = np.array([np.interp(at, depth, line[:, k]) for k in range(3)])
        reach = np.array([0.0, 0.0, 0.48 * (nail.thick_mm if hole <= nail.thick_length_mm else nail.thin_mm)])
        pieces.append(rod("nail hole", centre - reach, centre + reach, width, attenuation_per_mm=-METAL))
    return pieces


def _screw_meshes(leg: PlacedLeg, screw: Screw) -> list[Mesh]:
    axis, breaks, frame = _bone(leg, screw.bone)
    centre = axis.at_level(screw.level)
    turn = np.radians(screw.direction_deg)
    # 0: from lateral (+z) to medial; 90: from anterior (+x) to posterior.
    way = np.array([-np.sin(turn), 0.0, -np.cos(turn)])
    aside = np.array([np.cos(turn), 0.0, -np.sin(turn)])
    aside = aside if aside[np.argmax(np.abs(aside))] > 0 else -aside
    centre = centre + screw.offset_mm * aside
    start, end = centre - screw.outside_mm * way, centre + screw.inside_mm * way
    length = screw.outside_mm + screw.inside_mm
    step = np.linspace(0.0, 1.0, max(16, int(length / 0.35)))
    thread = (
        0.5
        * screw.diameter_mm
        * (1.0 - (0.055 if screw.head_mm else 0.0) * (1 + np.cos(step * length * 2 * np.pi / 1.8)))
    )
    thread[-4:] *= np.array([0.85, 0.6, 0.35, 0.1])
    line = start + step[:, None] * (end - start)
    distal = bool(any(item.cut and item.distance(centre[None])[0] > 0 for item in breaks))
    pieces = [swept("screw", line, thread, thread, attenuation_per_mm=METAL, around=24)]
    if screw.head_mm:
        back = start - 4.0 * way
        pieces.append(rod("screw head", back, start, screw.head_mm, attenuation_per_mm=METAL))
    rigid = _rigid_at(centre, breaks, distal=distal)
    return [piece.moved(rigid).moved(frame) for piece in pieces]


def _rigid_at(centre: Floats, breaks: tuple[Break, ...], *, distal: bool) -> Rigid:
    """Rigid motion of the fragment that holds a point, so that a long screw is not bent with the bone."""
    out = centre + np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    for item in reversed(breaks):
        beyond = distal if item.cut else bool(item.distance(centre[None])[0] > 0)
        if beyond:
            out = item.carried(out, np.ones(4))
    matrix = (out[1:] - out[0]).T
    return Rigid(matrix=matrix, offset=out[0] - matrix @ centre)


def hardware_meshes(leg: PlacedLeg, hardware: Hardware) -> list[Mesh]:
    """Nails, screws and pins of one leg, hip frame."""
    return [
        *(mesh for nail in hardware.nails for mesh in _nail_meshes(leg, nail, hardware)),
        *(mesh for screw in hardware.screws for mesh in _screw_meshes(leg, screw)),
    ]


def _outline(regenerate: Regenerate, share: Floats) -> tuple[Floats, Floats]:
    """Half width and sideways shift of new bone at shares of the gap, as fractions of the bone's own."""
    swell = 4.0 * share * (1.0 - share)
    middle, shape = regenerate.width, regenerate.shape
    if shape in (RegenerateShape.LATERAL, RegenerateShape.CENTRAL):
        half = np.full_like(share, 0.5 * middle)
        return half, np.full_like(share, 0.5 if shape is RegenerateShape.LATERAL else 0.0)
    if shape is RegenerateShape.CYLINDRICAL:
        return np.full_like(share, middle), 0.0 * share
    # Fusiform and concave run from the bone's own width at the ends to the given width in the middle.
    return 1.0 + (middle - 1.0) * swell, 0.0 * share


def regenerate_meshes(leg: PlacedLeg, hardware: Hardware) -> list[Mesh]:
    """New bone in the gaps of one leg, hip frame."""
    out: list[Mesh] = []
    for cut in hardware.lengthenings:
        if cut.regenerate is None or cut.gap_mm < 1.0:
            continue
        _, breaks, frame = _bone(leg, cut.bone)
        (place,) = (item for item in breaks if item.cut)
        ends = np.stack([moved(place.pivot[None], breaks, beyond_cut=beyond)[0] for beyond in (False, True)])
        half_x, half_z = _sections(leg, cut.bone, cut.level)
        share = np.linspace(0.0, 1.0, 40)
        half, aside = _outline(cut.regenerate, share)
        line = ends[0] + share[:, None] * (ends[1] - ends[0]) + aside[:, None] * np.array([0.0, 0.0, half_z])
        density = CORTEX * cut.regenerate.density
        out.append(
            swept(
                "new bone",
                line,
                half * half_x,
                half * half_z,
                attenuation_per_mm=density,
                texture=Texture.SPONGY,
            ).moved(frame)
        )
        if cut.regenerate.interzone > 0:
            clear = np.abs(share - 0.5) <= 0.5 * cut.regenerate.interzone
            if clear.sum() >= 2:
                out.append(
                    swept(
                        "clear zone",
                        line[clear],
                        0.98 * (half * half_x)[clear],
                        0.98 * (half * half_z)[clear],
                        attenuation_per_mm=-0.6 * density,
                    ).moved(frame)
                )
    return out
