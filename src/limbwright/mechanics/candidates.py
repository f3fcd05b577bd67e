"""Where a blocking screw could stand: levels, sides and sizes, with what speaks against each."""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.mechanics.canal import Walls
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.plane import Fragment, Side
from limbwright.mechanics.screw import BlockingScrew, screw_stiffness_n_per_mm
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut(Value):
    """A stretch of a fragment where no blocking screw may stand."""

    fragment: Fragment
    """Fragment it lies in."""
    start_depth_mm: float
    """Beginning, along the nail before lengthening."""
    end_depth_mm: float
    """End, along the nail before lengthening."""
    side: Side | None = None
    """Only for screws on this side; None for all sides."""
    reason: str
    """What lies there, in plain words."""

    def covers(self, fragment: Fragment, depth_mm: float, side: Side) -> bool:
        """Whether a screw at this place is ruled out."""
        return (
            fragment is self.fragment
            and self.start_depth_mm <= depth_mm <= self.end_depth_mm
            and self.side in (None, side)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate(Value):
    """One possible blocking screw."""

    screw: BlockingScrew
    """The screw, where it would stand."""
    room_mm: float
    """Gap between nail and wall there before lengthening: what the screw could take away."""
    against: str
    """Why it cannot stand there; empty when it can."""

    @property
    def fits(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.against


def candidate_screws(
    construct: Construct,
    *,
    distances_mm: tuple[float, ...],
    sides: tuple[Side, ...] = tuple(Side),
    diameters_mm: tuple[float, ...] = (5.0,),
    clearance_mm: float,
    notch_mm: float,
    from_hardware_mm: float,
    keep_outs: tuple[KeepOut, ...] = (),
    modulus_gpa: float | None = None,
    bone_stiffness_n_per_mm: float | None = None,
) -> tuple[Candidate, ...]:
    """All candidates over fragment x level x side x size.

    Parameters
    ----------
    distances_mm : tuple of float
        Distances of the screw's axis from the osteotomy, the same in both fragments.
    sides, diameters_mm : tuple
        Sides of the nail and screw sizes to consider.
    clearance_mm : float
        Gap to the nail to reckon with when a screw is aimed at touching it.
    notch_mm : float
        How far a screw may bite into the inner cortex beside it.
    from_hardware_mm : float
        Least distance of axes from locking screws.
    keep_outs : tuple of KeepOut
        Nerves, vessels, joints, weak bone.
    modulus_gpa, bone_stiffness_n_per_mm : float, optional
        Of screw and bone around it; both None for unyielding screws.

    Returns
    -------
    tuple of Candidate
        Those that do not fit are kept with the reason, so that what they would have gained can be told.
    """
    found = []
    for fragment in Fragment:
        outward = -1.0 if fragment is Fragment.ENTRY else 1.0
        for distance in distances_mm:
            depth = construct.osteotomy_depth_mm + outward * distance
            for side in sides:
                for diameter in diameters_mm:
                    screw = BlockingScrew(
                        fragment=fragment,
                        depth_mm=depth,
                        side=side,
                        clearance_mm=clearance_mm,
                        diameter_mm=diameter,
                    )
                    judged = judged_screw(
                        construct,
                        screw,
                        notch_mm=notch_mm,
                        from_hardware_mm=from_hardware_mm,
                        keep_outs=keep_outs,
                    )
                    if judged is None:
                        continue
                    if modulus_gpa is not None and bone_stiffness_n_per_mm is not None:
                        stiffness = screw_stiffness_n_per_mm(
                            diameter_mm=diameter,
                            span_mm=_width_mm(construct, screw),
                            modulus_gpa=modulus_gpa,
                            bone_stiffness_n_per_mm=bone_stiffness_n_per_mm,
                        )
                        judged = replace(judged, screw=replace(screw, stiffness_n_per_mm=stiffness))
                    found.append(judged)
    return tuple(found)


def judged_screw(
    construct: Construct,
    screw: BlockingScrew,
    *,
    notch_mm: float,
    from_hardware_mm: float,
    keep_outs: tuple[KeepOut, ...] = (),
) -> Candidate | None:
    """One screw with what speaks against it; None where it would stand beyond the nail or the walls known.

    Parameters
    ----------
    screw : BlockingScrew
        Where it would stand.
    notch_mm, from_hardware_mm, keep_outs
        As in `candidate_screws`.
    """
    depth, walls = screw.depth_mm, _walls(construct, screw)
    if not max(walls.depth_mm[0], 1.0) <= depth <= min(walls.depth_mm[-1], construct.nail.length_mm):
        return None
    wall = walls.positive_mm if screw.side.positive else walls.negative_mm
    shape = construct.nail.unloaded_offset_mm(screw.side.plane, depth)
    room = abs(float(np.interp(depth, walls.depth_mm, wall)) - shape) - construct.nail.radius_mm(depth)
    against = _against(
        construct, screw, room, notch_mm=notch_mm, from_hardware_mm=from_hardware_mm, keep_outs=keep_outs
    )
    return Candidate(screw=screw, room_mm=room, against=against)


def _walls(construct: Construct, screw: BlockingScrew) -> Walls:
    canal = construct.entry_canal if screw.fragment is Fragment.ENTRY else construct.moving_canal
    return canal.in_plane(screw.side.plane)


def _width_mm(construct: Construct, screw: BlockingScrew) -> float:
    walls = _walls(construct, screw)
    low, high = (np.interp(screw.depth_mm, walls.depth_mm, w) for w in (walls.negative_mm, walls.positive_mm))
    return float(high - low)


def _against(
    construct: Construct,
    screw: BlockingScrew,
    room_mm: float,
    *,
    notch_mm: float,
    from_hardware_mm: float,
    keep_outs: tuple[KeepOut, ...],
) -> str:
    """The first reason against a screw, or nothing."""
    for zone in keep_outs:
        if zone.covers(screw.fragment, screw.depth_mm, screw.side):
            return zone.reason
    for lock in construct.locking_screws:
        if lock.fragment is screw.fragment and abs(lock.depth_mm - screw.depth_mm) < from_hardware_mm:
            apart = abs(lock.depth_mm - screw.depth_mm)
            return f"{apart:.0f} mm from a locking screw, {from_hardware_mm:g} mm wanted"
    if room_mm <= screw.clearance_mm:
        return (
            f"the nail lies on the cortex on this side ({max(room_mm, 0.0):.1f} mm of room): nothing to gain"
        )
    if room_mm + notch_mm < screw.diameter_mm + screw.clearance_mm:
        room = f"{room_mm:.1f} mm of room and {notch_mm:g} mm of notch"
        return f"{room} do not take a {screw.diameter_mm:g} mm screw"
    return ""
