"""Which nails of a catalogue fit one bone, one osteotomy and one lengthening, and why the rest do not.

All depths run along the nail from its entry end. The thick part stays with the fragment at the entry end; the
other fragment moves away over it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from limbwright.finding import Number
from limbwright.implant.nail import Nail, NailEnd
from limbwright.plan.canal import HAIR_MM, CanalAlong
from limbwright.plan.motion import Floats
from limbwright.quantity import Value, require_within


def minimum_nail_length_mm(
    *, osteotomy_depth_mm: float, lengthening_mm: float, overlap_mm: float, exposed_thin_mm: float
) -> float:
    """Shortest closed nail that still holds the moving fragment at full length. [mm]

    Parameters
    ----------
    osteotomy_depth_mm : float
        Depth of the osteotomy along the nail from its entry end. [mm]
    lengthening_mm : float
        Length to gain. [mm]
    overlap_mm : float
        Thick part wanted inside the moving fragment at full length. [mm]
    exposed_thin_mm : float
        Thin part that already shows when the nail is closed. [mm]

    Notes
    -----
    N = D + L + V + E. References: common practice, no source.
    """
    for name, value in (
        ("osteotomy depth", osteotomy_depth_mm),
        ("lengthening", lengthening_mm),
        ("overlap", overlap_mm),
        ("exposed thin part", exposed_thin_mm),
    ):
        require_within(name, value, 0, 500, "mm", next_step="Check the osteotomy level and the goal.")
    return osteotomy_depth_mm + lengthening_mm + overlap_mm + exposed_thin_mm


def deepest_osteotomy_mm(
    *, nail_length_mm: float, lengthening_mm: float, overlap_mm: float, exposed_thin_mm: float
) -> float:
    """Deepest osteotomy that a nail of this length still holds, D = N - L - V - E. [mm]"""
    return nail_length_mm - lengthening_mm - overlap_mm - exposed_thin_mm


def reamer_mm(*, thick_diameter_mm: float, over_reaming_mm: float) -> float:
    """Diameter of the last reamer. [mm]"""
    return thick_diameter_mm + over_reaming_mm


def cortex_left_mm(*, outer_width_mm: npt.ArrayLike, reamer_diameter_mm: npt.ArrayLike) -> Floats:
    """Thickness of cortex left on each side of a centred reamer, (outer width - reamer) / 2. [mm]"""
    left: Floats = (np.asarray(outer_width_mm) - np.asarray(reamer_diameter_mm)) / 2
    return left


def overlap_course_mm(
    *, thick_length_mm: float, osteotomy_depth_mm: float, gained_mm: npt.ArrayLike
) -> Floats:
    """Thick part inside the moving fragment as it lengthens, V(x) = N - E - D - x; any shape. [mm]"""
    overlap: Floats = thick_length_mm - osteotomy_depth_mm - np.asarray(gained_mm, dtype=float)
    return overlap


def shape_offset_mm(depth_mm: npt.ArrayLike, *, bend_deg: float, bend_depth_mm: float) -> Floats:
    """Offset of the nail's centre line from the line of its straight part, toward the bend's lean. [mm]"""
    offset: Floats = np.tan(np.radians(bend_deg)) * np.maximum(
        bend_depth_mm - np.asarray(depth_mm, dtype=float), 0.0
    )
    return offset


@dataclass(frozen=True, slots=True, kw_only=True)
class NailDemand(Value):
    """What one bone, its osteotomies and one amount of lengthening ask of a nail."""

    osteotomy_depth_mm: float
    """Depth of the osteotomy that is lengthened along the nail's line from its entry end [mm]."""
    lengthening_mm: float
    """Length to gain [mm]."""
    room_mm: float
    """Length of canal from the entry end to the far joint line (or to what stands in the canal) [mm]."""
    second_depth_mm: float | None = None
    """Depth of a second osteotomy, which is only corrected; None with one [mm]."""

    @property
    def second_moves(self) -> bool:
        """Whether the second osteotomy travels with the moving fragment along the thick part."""
        return self.second_depth_mm is not None and self.second_depth_mm > self.osteotomy_depth_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class NailRules(Value):
    """The surgeon's numbers that decide whether a nail fits."""

    overlap_mm: float
    """Thick part wanted in the moving fragment at full length [mm]."""
    exposed_thin_mm: float
    """Least exposed thin part allowed for when the length is worked out [mm]."""
    tip_clearance_mm: float
    """Least distance of the tip from the end of the room [mm]."""
    over_reaming_mm: float
    """How much wider than the nail the canal is reamed, where the nail does not say [mm]."""
    reaming_beyond_canal_mm: float
    """How much wider than the canal at its narrowest the reamer may be [mm]."""
    cortex_left_mm: float
    """Least cortex left on each side after reaming [mm]."""
    misfit_mm: float
    """Misfit of the nail's shape against the reamed canal that is accepted [mm]."""
    hole_to_osteotomy_mm: float
    """Least distance of a hole from the osteotomy, at the start and at full length [mm]."""
    screws_per_fragment: int
    """Locking screws wanted in each fragment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NailVerdict(Value):
    """Whether one nail fits, why or why not, and the numbers."""

    nail: Nail
    """The nail."""
    fits: bool
    """True when nothing speaks against it."""
    reasons: tuple[str, ...]
    """Why it does not fit, each in plain words with its numbers; empty when it fits."""
    numbers: tuple[Number, ...]
    """What was computed for it."""

    def number(self, name: str) -> float:
        """One of the numbers by name; a wrong name is a mistake of ours."""
        return next(n.value for n in self.numbers if n.name == name)


def nail_verdict(
    nail: Nail, *, demand: NailDemand, rules: NailRules, canals: Sequence[CanalAlong]
) -> NailVerdict:
    """Check one nail against everything that is known.

    Parameters
    ----------
    nail : Nail
        Of the right bone and direction.
    demand, rules : NailDemand, NailRules
        What is asked, and by whose numbers.
    canals : sequence of CanalAlong
        Canals of both fragments in the planes that were traced; what was not traced is not judged.
    """
    reasons: list[str] = []
    numbers: list[Number] = []

    def note(name: str, value: float, unit: str = "mm") -> float:
        numbers.append(Number(name=name, value=round(value, 6), unit=unit))
        return value

    exposed = max(nail.exposed_thin_mm, rules.exposed_thin_mm)
    least = note(
        "least length",
        minimum_nail_length_mm(
            osteotomy_depth_mm=demand.osteotomy_depth_mm,
            lengthening_mm=demand.lengthening_mm,
            overlap_mm=rules.overlap_mm,
            exposed_thin_mm=exposed,
        ),
    )
    if nail.length_mm < least - HAIR_MM:
        reasons.append(f"{nail.length_mm:g} mm is shorter than the {least:.1f} mm needed.")
    most = note("greatest length", demand.room_mm - rules.tip_clearance_mm)
    if nail.length_mm > most + HAIR_MM:
        reasons.append(
            f"{nail.length_mm:g} mm is longer than the {most:.1f} mm that leave "
            f"{rules.tip_clearance_mm:g} mm before the joint."
        )
    note("overlap at full length", nail.thick_length_mm - demand.osteotomy_depth_mm - demand.lengthening_mm)
    note("overlap at the start", nail.thick_length_mm - demand.osteotomy_depth_mm)
    note("tip to joint", demand.room_mm - nail.length_mm)
    note("stroke", nail.stroke_mm)
    if nail.stroke_mm < demand.lengthening_mm - HAIR_MM:
        reasons.append(f"stroke {nail.stroke_mm:g} mm is less than {demand.lengthening_mm:.1f} mm to gain.")
    if demand.second_depth_mm is not None:
        reasons += _second_reasons(nail, demand, rules, demand.second_depth_mm, note)
    reasons += _hole_reasons(nail, demand, rules)
    over = nail.reamer_over_mm if nail.reamer_over_mm is not None else rules.over_reaming_mm
    reamer = note("reamer", reamer_mm(thick_diameter_mm=nail.thick_diameter_mm, over_reaming_mm=over))
    if canals:
        reasons += _canal_reasons(nail, reamer, rules, canals, note)
    return NailVerdict(nail=nail, fits=not reasons, reasons=tuple(reasons), numbers=tuple(numbers))


def _second_reasons(
    nail: Nail,
    demand: NailDemand,
    rules: NailRules,
    second_mm: float,
    note: Callable[[str, float, str], float],
) -> list[str]:
    """What the nail does for the middle fragment and at the second osteotomy; too little hold beyond it."""
    cut, gained = demand.osteotomy_depth_mm, demand.lengthening_mm
    length = note("length of the middle fragment", abs(second_mm - cut), "mm")
    overlap = nail.thick_length_mm - cut - gained
    # On the driving side the thick part fills the middle fragment; on the moving side it leaves it.
    grip = min(max(overlap, 0.0), length) if demand.second_moves else length
    note("thick part in the middle fragment at full length", grip, "mm")
    past = nail.thick_length_mm - second_mm
    note("thick part past the second osteotomy at the start", past, "mm")
    note(
        "thick part past the second osteotomy at full length",
        past - gained if demand.second_moves else past,
        "mm",
    )
    note("locking holes in the middle fragment", float(_holes_by_fragment(nail, demand)[1]), "")
    beyond = note("nail past the second osteotomy", nail.length_mm - second_mm, "mm")
    if beyond < rules.overlap_mm - HAIR_MM:
        return [
            f"{beyond:.1f} mm of the nail lie beyond the second osteotomy, {rules.overlap_mm:g} mm wanted."
        ]
    return []


def _holes_by_fragment(nail: Nail, demand: NailDemand) -> tuple[int, int, int]:
    """Holes that can be locked in the entry, the middle and the moving fragment.

    A hole of the thick part beyond the lengthened cut does not count: a screw there would block lengthening.
    """
    cut, second = demand.osteotomy_depth_mm, demand.second_depth_mm
    thick = [d for h in nail.holes if h.end is NailEnd.THICK and (d := nail.hole_depth_mm(h)) <= cut]
    thin = [d for h in nail.holes if h.end is NailEnd.THIN and (d := nail.hole_depth_mm(h)) > cut]
    if second is None:
        return len(thick), 0, len(thin)
    if demand.second_moves:
        beyond = sum(d > second for d in thin)
        return len(thick), len(thin) - beyond, beyond
    before = sum(d <= second for d in thick)
    return before, len(thick) - before, len(thin)


def _hole_reasons(nail: Nail, demand: NailDemand, rules: NailRules) -> list[str]:
    """Holes near a cut, and fragments left without their screws, at the start and at full length."""
    reasons = []
    gained = min(demand.lengthening_mm, nail.stroke_mm)
    for hole in nail.holes:
        start = nail.hole_depth_mm(hole)
        near = min(_to_cut_face_mm(hole.end, start, demand, gained))
        if near < rules.hole_to_osteotomy_mm - HAIR_MM:
            reasons.append(
                f"the {hole.direction} hole at {start:.0f} mm comes within {near:.1f} mm of a cut face, "
                f"{rules.hole_to_osteotomy_mm:g} mm wanted."
            )
    entry, _middle, moving = _holes_by_fragment(nail, demand)
    far = "moving" if not demand.second_moves else "far"
    for count, name in ((entry, "entry"), (moving, far)):
        if nail.holes and count < rules.screws_per_fragment:
            reasons.append(
                f"{count} locking hole(s) in the {name} fragment, {rules.screws_per_fragment} wanted."
            )
    return reasons


def _to_cut_face_mm(end: NailEnd, start_mm: float, demand: NailDemand, gained_mm: float) -> list[float]:
    """Least distances of a hole from the faces of each cut, from the start to full length. [mm]

    Seen from the thick part, cut faces beyond the lengthened cut travel away by what is gained; seen from the
    thin part, those before it do, and come no nearer than at the start.
    """
    found = []
    for cut, moves in ((demand.osteotomy_depth_mm, True), (demand.second_depth_mm, demand.second_moves)):
        if cut is None:
            continue
        off = start_mm - cut
        passed = end is NailEnd.THICK and moves and off > 0
        found.append(max(off - gained_mm, 0.0) if passed else abs(off))
    return found


def canal_fit_mm(
    nail: Nail, bore_mm: float, canal: CanalAlong, depths_mm: Floats
) -> tuple[Floats, Floats | None]:
    """Misfit and cortex left along one canal.

    Returns
    -------
    misfit_mm : (n,)
        How far the nail's surface stands outside the reamed canal; the canal is what the walls leave free or
        the reamer, run along the nail's line, has opened. Not above zero where it fits.
    cortex_mm : (n,) or None
        Bone left between the bore and the nearer outer edge; None without traced outer edges.
    """
    in_plane = nail.bend_plane is canal.projection
    offset = shape_offset_mm(
        depths_mm, bend_deg=nail.bend_deg if in_plane else 0.0, bend_depth_mm=nail.bend_depth_mm
    )
    radius = np.where(
        depths_mm <= nail.thick_length_mm, nail.thick_diameter_mm / 2, nail.thin_diameter_mm / 2
    )
    low, high = canal.gaps_mm(depths_mm, 0.0)
    free_low, free_high = np.maximum(low, bore_mm / 2), np.maximum(high, bore_mm / 2)
    misfit = np.maximum(radius - offset - free_low, radius + offset - free_high)
    cortex = canal.cortex_left_mm(depths_mm, bore_mm / 2)
    return misfit, None if cortex is None else np.minimum(cortex[0], cortex[1])


def _canal_reasons(
    nail: Nail,
    reamer: float,
    rules: NailRules,
    canals: Sequence[CanalAlong],
    note: Callable[[str, float], float],
) -> list[str]:
    reasons = []
    narrow, cortex_least, misfit_most, reamed_most = np.inf, np.inf, -np.inf, 0.0
    for canal in canals:
        depths = canal.depths_mm(0.0, nail.length_mm)
        if depths.size == 0:
            continue
        narrow = min(narrow, float(np.min(canal.width_mm(depths))))
        misfit, cortex = canal_fit_mm(nail, reamer, canal, depths)
        reamed_most = max(reamed_most, -float(np.min(canal.gaps_mm(depths, reamer / 2))))
        worst = int(np.argmax(misfit))
        misfit_most = max(misfit_most, float(misfit[worst]))
        if misfit[worst] > rules.misfit_mm:
            reasons.append(
                f"its shape stands {misfit[worst]:.1f} mm outside the reamed canal at depth "
                f"{depths[worst]:.0f} mm ({canal.projection}, {canal.fragment} fragment), "
                f"{rules.misfit_mm:g} mm accepted."
            )
        if cortex is not None:
            thin = int(np.argmin(cortex))
            cortex_least = min(cortex_least, float(cortex[thin]))
            if cortex[thin] < rules.cortex_left_mm - HAIR_MM:
                reasons.append(
                    f"a {reamer:g} mm reamer leaves {cortex[thin]:.1f} mm of cortex at depth "
                    f"{depths[thin]:.0f} mm ({canal.projection}, {canal.fragment} fragment), "
                    f"{rules.cortex_left_mm:g} mm wanted."
                )
    if reamer > narrow + rules.reaming_beyond_canal_mm + HAIR_MM:
        reasons.append(
            f"a {reamer:g} mm reamer is {reamer - narrow:.1f} mm wider than the canal at its narrowest "
            f"({narrow:.1f} mm), {rules.reaming_beyond_canal_mm:g} mm accepted."
        )
    if np.isfinite(narrow):
        note("narrowest canal", narrow)
        note("most bone reamed on one side", reamed_most)
        note("misfit of shape", misfit_most)
    if np.isfinite(cortex_least):
        note("cortex left", cortex_least)
    return reasons


def offered(
    verdicts: Sequence[NailVerdict],
    *,
    length_preference: Literal["shorter", "longer"],
    diameter_preference: Literal["thicker", "thinner"],
    lengths: int,
) -> tuple[NailVerdict, ...]:
    """The nails to offer, first choice first: of the preferred diameter, the next lengths that fit.

    Notes
    -----
    Of the lengths that fit, the `lengths` shortest are shown (a nail much longer than needed only adds
    friction), in the order the surgeon prefers; a shorter stroke comes first among equals, as it is the
    stiffer choice.
    """
    fitting = [v for v in verdicts if v.fits]
    if not fitting:
        return ()
    sign = -1.0 if diameter_preference == "thicker" else 1.0
    diameter = min((v.nail.thick_diameter_mm for v in fitting), key=lambda d: sign * d)
    same = sorted(
        (v for v in fitting if v.nail.thick_diameter_mm == diameter),
        key=lambda v: (v.nail.length_mm, v.nail.stroke_mm),
    )
    one_per_length = list({v.nail.length_mm: v for v in reversed(same)}.values())[::-1][:lengths]
    one_per_length.sort(key=lambda v: v.nail.length_mm, reverse=length_preference == "longer")
    return tuple(one_per_length)
