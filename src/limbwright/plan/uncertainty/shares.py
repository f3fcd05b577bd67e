"""What the spread of each result comes from: shares of its variance by input."""

from collections.abc import Callable, Sequence

import numpy as np

from limbwright.error import OutOfRange
from limbwright.limb.reading import Measure
from limbwright.mechanics import Plane, Spread, sobol_indices
from limbwright.plan.motion import Floats
from limbwright.plan.uncertainty.bone_draws import OSTEOTOMY, BoneDraws, PlaneDraws
from limbwright.plan.uncertainty.chain import EndChain
from limbwright.plan.uncertainty.values import (
    LENGTH,
    LENGTH_READ,
    LengthsOfLeg,
    Matter,
    Source,
    drift_name,
    overlap_name,
)

INDEX_COUNT = 256
WORDS = {
    "moment_factor": ("soft-tissue pull", Source.TISSUE),
    "axial_factor": ("axial tension", Source.TISSUE),
    "new_bone_factor": ("new bone", Source.TISSUE),
    "stiffness_factor": ("stiffness of the nail", Source.TISSUE),
    "lock_play_factor": ("play of the locking screws", Source.EXECUTION),
    "canal_widening_mm": ("width of the canal", Source.WALL),
    "entry_wall_shift_mm": ("nail's line in the entry fragment", Source.EXECUTION),
    "moving_wall_shift_mm": ("nail's line in the moving fragment", Source.EXECUTION),
    "blocking_clearance_error_mm": ("gap at a blocking screw", Source.EXECUTION),
    "blocking_depth_error_mm": ("level of a blocking screw", Source.EXECUTION),
}
SLIP_WORDS = (
    "frontal correction in theatre",
    "sagittal correction in theatre",
    "sideways place of the distal fragment",
    "place of the distal fragment to the front",
    "level of the osteotomy",
)
SCALE = "scale of the frontal film"

Shares = list[tuple[str, Source, float, float]]
"""Input, source, and the variance it explains alone and in all."""


def matters_of(
    chain: EndChain, spreads: tuple[Spread, ...], bones: Sequence[BoneDraws], lengths: LengthsOfLeg | None
) -> tuple[Matter, ...]:
    """Shares of the variance of every result: in closed form where it answers in proportion, by Sobol
    indices of the contact solver where it does not.
    """
    sd = {s.name: s.spread for s in spreads}
    contact = [{p: _contact_shares(d) for p, d in bone.planes.items()} for bone in bones]
    found: list[Matter] = []
    for i, measure in enumerate(chain.measures):
        shares: Shares = []
        for k, name in enumerate(chain.marks):
            v = float(np.sum((chain.by_mark[i, k] * chain.mark_sd[k]) ** 2))
            shares.append((name, Source.LANDMARK, v, v))
        if measure is Measure.MAD:
            v = float((chain.planned[i] * sd["scale"]) ** 2)
            shares.append((SCALE, Source.SCALE, v, v))
        for b, bone in enumerate(bones):
            of = f", {bone.plan.bone}" if len(bones) > 1 else ""
            for j, name in enumerate(SLIP_WORDS):
                v = float((chain.by_slip[i, b, j] * bone.sd[j]) ** 2)
                shares.append((f"{name}{of}", Source.EXECUTION, v, v))
            for j, plane in enumerate(Plane):
                slope = float(chain.by_slip[i, b, j]) ** 2
                shares += [(f"{n}{of}", s, slope * x, slope * y) for n, s, x, y in contact[b].get(plane, [])]
        found += _shared(measure.value, shares)
    for bone, own in zip(bones, contact, strict=True):
        for plane, drift in own.items():
            found += _shared(drift_name(bone.plan.bone, plane), drift)
        level = bone.sd[OSTEOTOMY] ** 2
        found += _shared(
            overlap_name(bone.plan.bone), [(SLIP_WORDS[OSTEOTOMY], Source.EXECUTION, level, level)]
        )
    if lengths is not None:
        scale, marks = (lengths.now_mm * sd["scale"]) ** 2, lengths.now_sd_mm**2
        found += _shared(
            LENGTH, [(SCALE, Source.SCALE, scale, scale), (LENGTH_READ, Source.LANDMARK, marks, marks)]
        )
    return tuple(found)


def _shared(result: str, shares: Shares) -> list[Matter]:
    whole = sum(first for _n, _s, first, _t in shares) or 1.0
    whole = max(whole, max((t for *_rest, t in shares), default=0.0))
    kept = [
        Matter(result=result, name=n, source=s, first_order=a / whole, total=b / whole)
        for n, s, a, b in shares
        if b / whole >= 0.005
    ]
    return sorted(kept, key=lambda m: -m.total)


def _contact_shares(plane: PlaneDraws) -> Shares:
    """Variance of one plane's drift that each input explains alone and in all [deg^2]."""
    try:
        found = sobol_indices(_finite(plane), plane.spreads, count=INDEX_COUNT, seed=1)
    except OutOfRange:  # a drift that does not vary has nothing to share
        return []
    shares: Shares = []
    for name, first, total in zip(found.name, found.first_order, found.total, strict=True):
        stem = next(k for k in WORDS if name.startswith(k))
        words, source = WORDS[stem]
        number = name.removeprefix(stem).strip()
        if number:
            words = f"{words} ({plane.plane}, number {number})"
        elif source is not Source.TISSUE or stem == "moment_factor":
            words = f"{words} ({plane.plane})"
        shares.append((words, source, max(first, 0.0) * found.variance, max(total, 0.0) * found.variance))
    return shares


def _finite(plane: PlaneDraws) -> Callable[[Floats], Floats]:
    """The model of a plane's drift with a number for every draw."""

    def model(columns: Floats) -> Floats:
        angle = plane.angulation_deg(columns)
        # A draw without a number stands at the middle, so that the indices of the others keep their meaning.
        return np.asarray(np.where(np.isfinite(angle), angle, np.nanmedian(angle)))

    return model
