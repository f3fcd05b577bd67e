"""The end of a leg's plan over everything that is unsure, and which of it matters most."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.finding import ordered
from limbwright.limb.reading import Measure
from limbwright.mechanics import Quantiles, Spread, draws, quantiles
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats
from limbwright.plan.uncertainty.bone_draws import OSTEOTOMY, BoneDraws, BonePlanned
from limbwright.plan.uncertainty.chain import FRONTAL, BoneEnd, EndChain, Slip, end_chain
from limbwright.plan.uncertainty.shares import matters_of
from limbwright.plan.uncertainty.uncertainty_finding import uncertainty_findings
from limbwright.plan.uncertainty.values import (
    LENGTH,
    LENGTH_READ,
    Criterion,
    LengthsOfLeg,
    PlanUncertainty,
    drift_name,
    is_drift,
    overlap_name,
)
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

__all__ = ["BonePlanned", "Draws", "LengthsOfLeg", "chain_of", "plan_uncertainty"]

PROBABILITY = (0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws(Value):
    """How many draws, and which."""

    count: int = 10_000
    """Quasi-random draws."""
    seed: int = 1
    """Seed of the scrambling."""


def plan_uncertainty(
    leg: LegModel,
    bones: Sequence[BonePlanned],
    profile: Profile,
    *,
    targets: Mapping[Measure, float],
    lengths: LengthsOfLeg | None = None,
    draws_of: Draws | None = None,
    shares: bool = True,
    near: EndChain | None = None,
) -> PlanUncertainty:
    """Sample the end of a leg's plan, all of its bones together.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands with its landmark and scale uncertainties.
    bones : sequence of BonePlanned
        Every bone of the plan with its forecast.
    targets : mapping
        Wanted readings; a reading without one is compared with what the plan's geometry aims at.
    lengths : LengthsOfLeg, optional
        Length against the other leg.
    draws_of : Draws, optional
        Count and seed.
    shares : bool
        Whether to work out what matters most.
    near : EndChain, optional
        As in `chain.end_chain`.

    Notes
    -----
    Errors of landmarks, scale and execution enter the readings in proportion, y = y0 + sum(dy/dm * e_m) +
    sum(dy/ds * s), with marks m, slips s of the execution and slopes from `chain`; drift, its turn and its
    shift, takes the place of the slip it is and comes through the contact solver draw by draw, as
    `CoupledDraws` says. Draws without a number count as outside every tolerance. Where y
    is such a sum, the share of an input is (dy/dx * sd_x)^2 / var(y), first-order and total alike; where the
    solver stands between, its Sobol indices times the slope squared.
    """
    chosen = draws_of or Draws()
    chain = chain_of(leg, bones, near=near)
    drawn_bones = [BoneDraws(b, profile) for b in bones]
    spreads = _spreads(chain, leg, drawn_bones, lengths)
    drawn = draws(spreads, count=chosen.count, seed=chosen.seed)
    results: dict[str, Floats] = {}
    slips = []
    for bone in drawn_bones:
        slip, angulation = bone.slips(drawn)
        slips.append(slip)
        results |= {drift_name(bone.plan.bone, p): a for p, a in angulation.items()}
        results[overlap_name(bone.plan.bone)] = bone.overlap_mm - drawn[bone.input(OSTEOTOMY)]
    readings = _readings(chain, drawn, np.stack(slips, axis=1))
    results = {m.value: readings[:, i] for i, m in enumerate(chain.measures)} | results
    if lengths is not None:
        results[LENGTH] = lengths.end_mm + drawn["scale"] * lengths.now_mm + drawn[LENGTH_READ]
    criteria, inside = _criteria(chain, results, targets, profile, lengths)
    together = np.logical_and.reduce([*inside.values()]) if inside else np.ones(chosen.count, dtype=bool)
    made = PlanUncertainty(
        bones=tuple(b.plan.bone for b in bones),
        draws=chosen.count,
        seed=chosen.seed,
        results={name: _quantiles(column) for name, column in results.items()},
        criteria=criteria,
        inside_all=float(np.mean(together)),
        matters=matters_of(chain, spreads, drawn_bones, lengths) if shares else (),
        findings=(),
    )
    return replace(made, findings=ordered(uncertainty_findings(made, profile)))


def chain_of(leg: LegModel, bones: Sequence[BonePlanned], *, near: EndChain | None = None) -> EndChain:
    """Readings of a leg's plan at full length with the forecast drift, and their slopes."""
    drifts = [None if b.forecast is None else b.forecast.planned.drift() for b in bones]
    ends = [BoneEnd(plan=b.plan, slip=Slip.of_drift(d)) for b, d in zip(bones, drifts, strict=True)]
    return end_chain(leg, ends, near=near)


def _spreads(
    chain: EndChain, leg: LegModel, bones: Sequence[BoneDraws], lengths: LengthsOfLeg | None
) -> tuple[Spread, ...]:
    found = [
        Spread(name=f"mark {i} {axis}", centre=0, spread=float(sd))
        for i, sd in enumerate(chain.mark_sd)
        for axis in ("across", "along")
    ]
    found.append(Spread(name="scale", centre=0, spread=leg.frontal_scale_sd))
    if lengths is not None:
        found.append(Spread(name=LENGTH_READ, centre=0, spread=lengths.now_sd_mm))
    return (*found, *(s for bone in bones for s in bone.spreads()))


def _readings(chain: EndChain, drawn: Mapping[str, Floats], slips: Floats) -> Floats:
    """Readings of every draw, (n, m); slips (n, bones, 5)."""
    found = chain.planned + np.einsum("nbs,mbs->nm", slips, chain.by_slip)
    for k in range(len(chain.marks)):
        for a, axis in enumerate(("across", "along")):
            found += np.outer(drawn[f"mark {k} {axis}"], chain.by_mark[:, k, a])
    if Measure.MAD in chain.measures:
        i = chain.measures.index(Measure.MAD)
        found[:, i] += drawn["scale"] * chain.planned[i]
    return np.asarray(found)


def _criteria(
    chain: EndChain,
    results: Mapping[str, Floats],
    targets: Mapping[Measure, float],
    profile: Profile,
    lengths: LengthsOfLeg | None,
) -> tuple[tuple[Criterion, ...], dict[str, npt.NDArray[np.bool_]]]:
    """Share of the draws inside each tolerance."""
    wanted: list[tuple[str, float, float, str]] = []
    for i, measure in enumerate(chain.measures):
        tolerance = profile.mad_tolerance_mm
        if measure is not Measure.MAD:
            tolerance = profile.angle_tolerance_deg if measure in FRONTAL else profile.sagittal_tolerance_deg
        unit = "mm" if measure is Measure.MAD else "deg"
        wanted.append((measure.value, targets.get(measure, float(chain.aimed[i])), tolerance, unit))
    wanted += [(name, 0.0, profile.drift_limit_deg, "deg") for name in results if is_drift(name)]
    if lengths is not None:
        wanted.append((LENGTH, lengths.wanted_mm, profile.length_tolerance_mm, "mm"))
    found, inside = [], {}
    for name, target, tolerance, unit in wanted:
        # Not a number is not inside.
        hit = np.abs(results[name] - target) <= tolerance
        inside[name] = hit
        found.append(
            Criterion(
                name=name, target=target, tolerance=tolerance, unit=unit, probability=float(np.mean(hit))
            )
        )
    return tuple(found), inside


def _quantiles(column: Floats) -> Quantiles:
    return quantiles(column, PROBABILITY)
