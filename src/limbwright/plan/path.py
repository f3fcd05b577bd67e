"""The straight line a nail takes through each fragment, and walking back to it from the wanted end.

Kernels take and return arrays with points and directions along the last axis (anterior, proximal, lateral),
any number of leading axes; the functions on `NailPath` around them are for one plan.

A nail with a bend near its entry end has its straight part along the line of the driving fragment; the short
part above the bend leads to the entry point. Depth is measured along both.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.error import Missing, OutOfRange, Refused
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.plan.cut import Cut
from limbwright.plan.decision import FragmentPath, NailPath, Place
from limbwright.plan.motion import (
    Floats,
    Motion,
    rotation_between,
    rotation_vector_deg,
    triple,
    unit,
)
from limbwright.quantity import Value


def vector(place: Place) -> Floats:
    """A place as (anterior, proximal, lateral), (3,). [mm]"""
    return np.array([place.anterior_mm, place.proximal_mm, place.lateral_mm])


def place_of(point_mm: npt.ArrayLike) -> Place:
    """Three coordinates as a place. [mm]"""
    anterior, proximal, lateral = triple(point_mm)
    return Place(anterior_mm=anterior, proximal_mm=proximal, lateral_mm=lateral)


def distal_direction(path: FragmentPath) -> Floats:
    """Unit direction of a fragment's line, toward distal, (3,)."""
    line = vector(path.lower) - vector(path.upper)
    # A nail that ends above the cut keeps one millimetre of line, give or take rounding.
    if float(np.linalg.norm(line)) < 1.0 - 1e-6:
        raise OutOfRange(
            f"the two points of the line lie {float(np.linalg.norm(line)):.2f} mm apart, expected 1 or more.",
            where=f"nail path, {path.fragment} fragment",
            next_step="Draw the line through two separate points of the canal.",
        )
    return unit(line)


def crossing(
    point_mm: npt.ArrayLike, direction: npt.ArrayLike, plane_point_mm: npt.ArrayLike, normal: npt.ArrayLike
) -> Floats:
    """Where lines cross planes, all (..., 3); nan where a line runs along its plane. [mm]"""
    p, d = np.asarray(point_mm, dtype=float), np.asarray(direction, dtype=float)
    n = np.asarray(normal, dtype=float)
    across = np.sum(d * n, axis=-1)
    distance = np.sum((np.asarray(plane_point_mm, dtype=float) - p) * n, axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        s = distance / np.where(np.abs(across) > 1e-9, across, np.nan)
    point: Floats = p + s[..., None] * d
    return point


def driving_fragment(direction: Direction) -> Fragment:
    """The fragment that holds the nail's entry end and its thick part."""
    return Fragment.PROXIMAL if direction is Direction.ANTEGRADE else Fragment.DISTAL


def driving_line(path: NailPath, direction: Direction) -> tuple[Floats, Floats, float]:
    """Start of the straight part, direction away from the driving end, and length of the run-in before it.

    Returns
    -------
    start, direction : (3,) arrays [mm; -]
    run_in_mm : float
        Distance from the entry point to the start; zero for a straight nail that enters on its line. [mm]
    """
    if direction is Direction.ANTEGRADE:
        start, along = vector(path.proximal.upper), distal_direction(path.proximal)
    else:
        start, along = vector(path.distal.lower), -distal_direction(path.distal)
    return start, along, float(np.linalg.norm(start - vector(path.entry)))


def point_at_depth(path: NailPath, direction: Direction, depth_mm: float) -> Floats:
    """The point of the nail's centre line at a depth, in the driving fragment as it stands, (3,). [mm]"""
    start, along, run_in_mm = driving_line(path, direction)
    if depth_mm >= run_in_mm:
        return start + (depth_mm - run_in_mm) * along
    entry = vector(path.entry)
    point: Floats = entry + depth_mm / run_in_mm * (start - entry)
    return point


def depth_of_point(path: NailPath, direction: Direction, point_mm: npt.ArrayLike) -> float:
    """Depth of the foot of a point on the nail's straight part, driving fragment as it stands. [mm]"""
    start, along, run_in_mm = driving_line(path, direction)
    return run_in_mm + float((np.asarray(point_mm, dtype=float) - start) @ along)


def cut_at_depth(bone: Bone, path: NailPath, direction: Direction, depth_mm: float) -> Cut:
    """The cut at a depth, across the nail's line of the proximal fragment."""
    _start, _along, run_in_mm = driving_line(path, direction)
    if depth_mm <= run_in_mm:
        raise OutOfRange(
            f"the osteotomy at {depth_mm:.1f} mm lies within the nail's bent end of {run_in_mm:.1f} mm.",
            where=f"osteotomy, {bone}",
            next_step="Move the osteotomy deeper, or choose a nail without a bend.",
        )
    return Cut(
        bone=bone,
        point_mm=triple(point_at_depth(path, direction, depth_mm)),
        normal=triple(-distal_direction(path.proximal)),
    )


def cuts_at_depths(
    bone: Bone, path: NailPath, direction: Direction, first_mm: float, second_mm: float
) -> tuple[Cut, Cut]:
    """Two cuts of one bone, the proximal one first, each across the line of the fragment above it.

    Parameters
    ----------
    first_mm, second_mm : float
        Their depths along the nail, in any order. [mm]

    Raises
    ------
    Missing
        If the path does not say its line in the middle fragment.
    OutOfRange
        If the cuts lie less than 1 mm apart, or one within the nail's bent end.
    """
    if path.middle is None:
        raise Missing(
            "the nail's line in the middle fragment is not given.",
            where=f"nail path, {bone}",
            next_step="Plan the two osteotomies again; their nail has a line in each of three fragments.",
        )
    near_mm, far_mm = sorted((first_mm, second_mm))
    if far_mm - near_mm < 1.0:
        raise OutOfRange(
            f"two osteotomies lie {far_mm - near_mm:.1f} mm apart.",
            where=f"osteotomies of the {bone}",
            next_step="Cut at two separate levels, or only once.",
        )
    near = cut_at_depth(bone, path, direction, near_mm)
    v = distal_direction(path.middle)
    if direction is Direction.RETROGRADE:
        near = replace(near, normal=triple(-v))
    on_middle = crossing(vector(path.middle.upper), v, near.point_mm, near.normal)
    onward = 1.0 if direction is Direction.ANTEGRADE else -1.0
    above = path.middle if direction is Direction.ANTEGRADE else path.proximal
    far = Cut(
        bone=bone,
        point_mm=triple(on_middle + onward * (far_mm - near_mm) * v),
        normal=triple(-distal_direction(above)),
    )
    return (near, far) if direction is Direction.ANTEGRADE else (far, near)


def bent_entry(nail: Nail, bend_point_mm: npt.ArrayLike, along: npt.ArrayLike) -> Floats:
    """Where the entry end of a bent nail lies, given its bend's apex and its straight part, (3,). [mm]

    Parameters
    ----------
    nail : Nail
        Its bend leans the entry end anterior (sagittal plane) or lateral (frontal plane).
    bend_point_mm, along : (3,) arrays
        Apex of the bend, and unit direction of the straight part away from the driving end. [mm; -]
    """
    u = np.asarray(along, dtype=float)
    toward = np.array([1.0, 0.0, 0.0] if nail.bend_plane is Projection.SAGITTAL else [0.0, 0.0, 1.0])
    toward = unit(toward - (toward @ u) * u)
    angle = np.radians(nail.bend_deg)
    back = -np.cos(angle) * u + np.sin(angle) * toward
    entry: Floats = np.asarray(bend_point_mm, dtype=float) + nail.bend_depth_mm * back
    return entry


def walked_back(
    point_mm: npt.ArrayLike, direction: npt.ArrayLike, rotation: npt.ArrayLike, translation_mm: npt.ArrayLike
) -> tuple[Floats, Floats]:
    """The line in the distal fragment as it stands that a motion brings onto a line of the proximal fragment.

    Shapes (..., 3), (..., 3), (..., 3, 3), (..., 3); returns a point and a direction, (..., 3) each.
    """
    back = np.swapaxes(np.asarray(rotation, dtype=float), -1, -2)
    p = np.asarray(point_mm, dtype=float) - np.asarray(translation_mm, dtype=float)
    return (
        np.einsum("...ij,...j->...i", back, p),
        np.einsum("...ij,...j->...i", back, np.asarray(direction, dtype=float)),
    )


def end_translation_on_axis(
    *,
    line_point_mm: npt.ArrayLike,
    line_direction: npt.ArrayLike,
    plane_point_mm: npt.ArrayLike,
    normal: npt.ArrayLike,
    rotation: npt.ArrayLike,
    proximal_centre_mm: npt.ArrayLike,
    distal_centre_mm: npt.ArrayLike,
    axis: npt.ArrayLike,
    lengthening_mm: npt.ArrayLike,
) -> Floats:
    """Translation of the end motion that puts the distal joint centre on a wanted axis, (..., 3). [mm]

    Parameters
    ----------
    line_point_mm, line_direction : (..., 3)
        The nail's line in the proximal fragment, direction distal. [mm; -]
    plane_point_mm, normal : (..., 3)
        The cut, as it stands. [mm; -]
    rotation : (..., 3, 3)
        Wanted turn of the distal fragment.
    proximal_centre_mm, distal_centre_mm : (..., 3)
        Joint centres of the bone (or leg), as they stand. [mm]
    axis : (..., 3)
        Wanted direction from the proximal to the distal centre at full length.
    lengthening_mm : (...)
        Length gained along the nail. [mm]

    Notes
    -----
    With x → R·x + t, the centre condition is t = c_p + λ·a - R·c_d. The distal line is what the motion brings
    onto the proximal line; it crosses the cut at q0, and full length means R·q0 + t = p0 + L·u, p0 the
    crossing of the proximal line. That fixes λ:
    λ = (L·n'u + n'p0 - n·q - n'c_p + n·c_d) / n'a, n' = R·n, q a point of the cut.
    """
    r, n = np.asarray(rotation, dtype=float), np.asarray(normal, dtype=float)
    u, a = np.asarray(line_direction, dtype=float), np.asarray(axis, dtype=float)
    q = np.asarray(plane_point_mm, dtype=float)
    c_p, c_d = np.asarray(proximal_centre_mm, dtype=float), np.asarray(distal_centre_mm, dtype=float)
    p0 = crossing(line_point_mm, u, q, n)
    turned = np.einsum("...ij,...j->...i", r, n)

    def dot(x: Floats, y: Floats) -> Floats:
        product: Floats = np.sum(x * y, axis=-1)
        return product

    reach = (
        np.asarray(lengthening_mm) * dot(turned, u)
        + dot(turned, p0)
        - dot(n, q)
        - dot(turned, c_p)
        + dot(n, c_d)
    ) / dot(turned, a)
    translation: Floats = c_p + reach[..., None] * a - np.einsum("...ij,...j->...i", r, c_d)
    return translation


def end_translation_through(
    *,
    line_point_mm: npt.ArrayLike,
    line_direction: npt.ArrayLike,
    plane_point_mm: npt.ArrayLike,
    normal: npt.ArrayLike,
    rotation: npt.ArrayLike,
    through_mm: npt.ArrayLike,
    lengthening_mm: npt.ArrayLike,
) -> Floats:
    """Translation of the end motion whose distal line runs through a chosen point of the distal fragment.

    As `end_translation_on_axis`, with `through_mm` (..., 3): a point of the distal fragment as it stands, for
    instance the middle of its canal. Returns (..., 3). [mm]
    """
    r, u = np.asarray(rotation, dtype=float), np.asarray(line_direction, dtype=float)
    p0 = crossing(line_point_mm, u, plane_point_mm, normal)
    back = np.einsum("...ji,...j->...i", r, u)
    q0 = crossing(through_mm, back, plane_point_mm, normal)
    translation: Floats = (
        p0 + np.asarray(lengthening_mm)[..., None] * u - np.einsum("...ij,...j->...i", r, q0)
    )
    return translation


@dataclass(frozen=True, slots=True, kw_only=True)
class DistalPath(Value):
    """The line in the distal fragment that leads to a wanted end, with the rotation that goes with it."""

    path: FragmentPath
    """The line, in the leg as it stands."""
    rotation_correction_deg: float
    """Rotation about the nail to give at the reduction, external + [deg]."""


def path_from_end(*, proximal: FragmentPath, cut: Cut, end: Motion, lengthening_mm: float) -> DistalPath:
    """Walk back from the wanted place of the distal fragment at full length to the nail's line in it.

    Parameters
    ----------
    proximal : FragmentPath
        The nail's line in the proximal fragment.
    cut : Cut
        The osteotomy.
    end : Motion
        Motion that takes the distal fragment from where it stands to the planned end.
    lengthening_mm : float
        Length to gain along the nail. [mm]

    Raises
    ------
    Refused
        If the end needs the bone ends apart, or one into the other, beyond the lengthening: a motion whose
        cut ends do not stand `lengthening_mm` apart on the nail's line.
    """
    u = distal_direction(proximal)
    p0 = crossing(vector(proximal.upper), u, cut.point_mm, cut.normal)
    point, along = walked_back(p0 + lengthening_mm * u, u, end.matrix(), end.offset_mm())
    q0 = crossing(point, along, cut.point_mm, cut.normal)
    gap_mm = float((end.moved(q0) - p0) @ u)
    if not abs(gap_mm - lengthening_mm) < 1e-3:
        raise Refused(
            f"the wanted end leaves the bone ends {gap_mm:.1f} mm apart on the nail's line, but "
            f"{lengthening_mm:.1f} mm are to be gained.",
            where=f"planning from the end, {cut.bone}",
            next_step="Change the lengthening or the wanted place of the distal joint along the nail.",
        )
    twist = end.matrix() @ rotation_between(along, u).T
    return DistalPath(
        path=FragmentPath(
            fragment=Fragment.DISTAL, upper=place_of(q0), lower=place_of(q0 + _span_mm(proximal) * along)
        ),
        # About the distal direction, right-handed is external.
        rotation_correction_deg=float(rotation_vector_deg(twist) @ u),
    )


def _span_mm(path: FragmentPath) -> float:
    return float(np.linalg.norm(vector(path.lower) - vector(path.upper)))
