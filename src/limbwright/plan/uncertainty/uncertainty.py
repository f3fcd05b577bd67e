"""The end of one bone plan over everything that is unsure, and which of it matters most."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.error import OutOfRange
from limbwright.finding import ordered
from limbwright.limb.reading import Measure
from limbwright.mechanics import (
    Construct,
    Plane,
    Quantiles,
    Spread,
    Stage,
    drawn_course,
    draws,
    expanded_spreads,
    quantiles,
    sobol_indices,
    solve,
)
from limbwright.plan.decision import BonePlan
from limbwright.plan.end_alignment import Progress
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.forecast.spread import play_beside_nail_mm, tissue_and_fit_spreads
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats
from limbwright.plan.uncertainty.chain import FRONTAL, EndChain, end_chain
from limbwright.plan.uncertainty.uncertainty_finding import uncertainty_findings
from limbwright.plan.uncertainty.values import (
    LENGTH,
    OVERLAP,
    Criterion,
    Matter,
    PlanUncertainty,
    Source,
    drift_name,
)
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

PROBABILITY = (0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975)
INDEX_COUNT = 256
SAMPLING_STEP_MM = 10.0  # twice as coarse as when layouts are compared: within 0.07 deg, docs/mechanics.md
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws(Value):
    """How many draws, and which."""

    count: int = 10_000
    """Quasi-random draws."""
    seed: int = 1
    """Seed of the scrambling."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthsOfLeg(Value):
    """Length against the other leg, by the films."""

    now_mm: float
    """As it stands, treated leg longer + [mm]."""
    end_mm: float
    """At full length by the plan [mm]."""
    wanted_mm: float = 0.0
    """Wanted at the end [mm]."""


def plan_uncertainty(
    leg: LegModel,
    plan: BonePlan,
    profile: Profile,
    *,
    targets: Mapping[Measure, float],
    forecast: BoneForecast | None = None,
    lengths: LengthsOfLeg | None = None,
    others: Sequence[Progress] = (),
    draws_of: Draws | None = None,
) -> PlanUncertainty:
    """Sample the end of one bone plan.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands with its landmark and scale uncertainties.
    plan : BonePlan
        The plan, which is held while everything else varies.
    targets : mapping
        Wanted readings; a reading without one is compared with what is planned.
    forecast : BoneForecast, optional
        Forecast of the plan: gives the construct and the coupled drift. Without it no drift is drawn.
    lengths : LengthsOfLeg, optional
        Length against the other leg.
    others : sequence of Progress
        Other bones of the leg at full length, held.
    draws_of : Draws, optional
        Count and seed.

    Notes
    -----
    Errors of landmarks, scale and execution enter the readings in proportion (`chain`), drift through the
    contact solver draw by draw, each plane alone and scaled to the coupled answer. Draws without a number
    count as outside every tolerance.
    """
    chosen = draws_of or Draws()
    expected = forecast.planned.drift() if forecast is not None else None
    chain = end_chain(leg, plan, drift=expected, others=others)
    drifts = {p: _plane(plan, forecast, p, profile) for p in Plane}
    spreads = _spreads(chain, leg, plan, profile, drifts)
    drawn = draws(spreads, count=chosen.count, seed=chosen.seed)
    angulation = {p: d.drawn(drawn) for p, d in drifts.items() if d is not None}
    readings = _readings(chain, drawn, drifts, angulation)
    results: dict[str, Floats] = {m.value: readings[:, i] for i, m in enumerate(chain.measures)}
    results |= {drift_name(p): a for p, a in angulation.items()}
    if lengths is not None:
        results[LENGTH] = lengths.end_mm + drawn["scale"] * lengths.now_mm
    overlap = plan.nail.thick_length_mm - plan.osteotomy.depth_mm - plan.lengthening_mm
    results[OVERLAP] = overlap - drawn["slip 4"]
    criteria, inside = _criteria(chain, results, targets, profile, lengths)
    together = np.logical_and.reduce([*inside.values()]) if inside else np.ones(chosen.count, dtype=bool)
    matters = _matters(chain, spreads, drifts)
    made = PlanUncertainty(
        bone=plan.bone,
        draws=chosen.count,
        seed=chosen.seed,
        results={name: _quantiles(column) for name, column in results.items()},
        criteria=criteria,
        inside_all=float(np.mean(together)),
        matters=matters,
        findings=(),
    )
    return replace(made, findings=ordered(uncertainty_findings(made, profile)))


class _Plane:
    """Drift of one plane at full length as a function of its inputs."""

    def __init__(
        self, construct: Construct, plane: Plane, stage: Stage, spreads: tuple[Spread, ...], ratio: float
    ) -> None:
        self.construct, self.plane, self.stage, self.ratio = construct, plane, stage, ratio
        self.spreads = expanded_spreads(construct, plane, spreads)

    def named(self) -> tuple[Spread, ...]:
        """The inputs under names of their own in the whole chain."""
        return tuple(replace(s, name=f"{self.plane} {s.name}") for s in self.spreads)

    def angulation_deg(self, columns: Floats) -> Floats:
        """Angulation of draws (n, inputs), scaled to the coupled answer, (n,). [deg]"""
        angle, _step = drawn_course(self.construct, self.plane, (self.stage,), self.spreads, columns)
        return np.asarray(angle[:, 0] * self.ratio)

    def drawn(self, values: Mapping[str, Floats]) -> Floats:
        """Angulation of the chain's draws. [deg]"""
        return self.angulation_deg(np.column_stack([values[s.name] for s in self.named()]))


def _plane(plan: BonePlan, forecast: BoneForecast | None, plane: Plane, profile: Profile) -> _Plane | None:
    if forecast is None:
        return None
    end = forecast.planned.end.in_plane(plane)
    if end.angulation_deg is None:
        return None
    construct = replace(forecast.modelled.construct, contact_step_mm=SAMPLING_STEP_MM)
    stage = forecast.stages[-1]
    alone = solve(construct, plane, stage.load.in_plane(plane), lengthening_mm=stage.lengthening_mm)
    reference = alone.angulation_deg
    if reference is None or abs(reference) < 1e-6:
        return None
    ratio = min(max(end.angulation_deg / reference, 0.0), 1.0)
    spreads = tissue_and_fit_spreads(plan, forecast.region, plane, profile)
    return _Plane(construct, plane, stage, spreads, ratio)


def _spreads(
    chain: EndChain,
    leg: LegModel,
    plan: BonePlan,
    profile: Profile,
    drifts: Mapping[Plane, _Plane | None],
) -> tuple[Spread, ...]:
    off_line = min(profile.path_error_mm, play_beside_nail_mm(plan) / 2)
    slips = (
        profile.correction_error_deg,
        profile.correction_error_deg,
        off_line,
        off_line,
        profile.osteotomy_level_error_mm,
    )
    found = [
        Spread(name=f"mark {i} {axis}", centre=0, spread=float(sd))
        for i, sd in enumerate(chain.mark_sd)
        for axis in ("across", "along")
    ]
    found.append(Spread(name="scale", centre=0, spread=leg.frontal_scale_sd))
    found += [Spread(name=f"slip {i}", centre=0, spread=sd) for i, sd in enumerate(slips)]
    for plane in drifts.values():
        if plane is not None:
            found += plane.named()
    return tuple(found)


def _readings(
    chain: EndChain,
    drawn: Mapping[str, Floats],
    drifts: Mapping[Plane, _Plane | None],
    angulation: Mapping[Plane, Floats],
) -> Floats:
    """Readings of every draw, (n, m)."""
    marks = np.stack(
        [
            np.stack([drawn[f"mark {i} {axis}"] for axis in ("across", "along")], axis=1)
            for i in range(len(chain.marks))
        ],
        axis=1,
    )
    slips = np.stack([drawn[f"slip {i}"] for i in range(5)], axis=1)
    for i, plane in enumerate(Plane):
        own = drifts[plane]
        if own is not None:
            slips[:, i] += angulation[plane] - expected_of(own)
    found = chain.planned + np.einsum("nka,mka->nm", marks, chain.by_mark) + slips @ chain.by_slip.T
    if Measure.MAD in chain.measures:
        i = chain.measures.index(Measure.MAD)
        found[:, i] += drawn["scale"] * chain.planned[i]
    return np.asarray(found)


def expected_of(plane: _Plane) -> float:
    """The drift that is in the plan's readings already: every input at its centre. [deg]"""
    centre = np.array([[s.centre for s in plane.spreads]])
    return float(plane.angulation_deg(centre)[0])


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
        wanted.append((measure.value, targets.get(measure, float(chain.planned[i])), tolerance, unit))
    wanted += [
        (drift_name(p), 0.0, profile.drift_limit_deg, "deg") for p in Plane if drift_name(p) in results
    ]
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


def _matters(
    chain: EndChain, spreads: tuple[Spread, ...], drifts: Mapping[Plane, _Plane | None]
) -> tuple[Matter, ...]:
    """Shares of the variance of every result: in closed form where it answers in proportion, by Sobol
    indices of the contact solver where it does not.
    """
    sd = {s.name: s.spread for s in spreads}
    contact = {p: _contact_shares(d) for p, d in drifts.items() if d is not None}
    found: list[Matter] = []
    for i, measure in enumerate(chain.measures):
        shares: list[tuple[str, Source, float, float]] = []
        for k, name in enumerate(chain.marks):
            v = float(np.sum((chain.by_mark[i, k] * chain.mark_sd[k]) ** 2))
            shares.append((name, Source.LANDMARK, v, v))
        if measure is Measure.MAD:
            v = float((chain.planned[i] * sd["scale"]) ** 2)
            shares.append(("scale of the frontal film", Source.SCALE, v, v))
        for j, name in enumerate(SLIP_WORDS):
            v = float((chain.by_slip[i, j] * sd[f"slip {j}"]) ** 2)
            shares.append((name, Source.EXECUTION, v, v))
        for j, plane in enumerate(Plane):
            slope = float(chain.by_slip[i, j]) ** 2
            shares += [(n, s, slope * a, slope * b) for n, s, a, b in contact.get(plane, ())]
        found += _shared(measure.value, shares)
    for plane, own in contact.items():
        found += _shared(drift_name(plane), list(own))
    return tuple(found)


def _shared(result: str, shares: list[tuple[str, Source, float, float]]) -> list[Matter]:
    whole = sum(first for _n, _s, first, _t in shares) or 1.0
    whole = max(whole, max((t for *_rest, t in shares), default=0.0))
    kept = [
        Matter(result=result, name=n, source=s, first_order=a / whole, total=b / whole)
        for n, s, a, b in shares
        if b / whole >= 0.005
    ]
    return sorted(kept, key=lambda m: -m.total)


def _contact_shares(plane: _Plane) -> tuple[tuple[str, Source, float, float], ...]:
    """Variance of one plane's drift that each input explains alone and in all [deg^2]."""
    try:
        found = sobol_indices(_finite(plane), plane.spreads, count=INDEX_COUNT, seed=1)
    except OutOfRange:  # a drift that does not vary has nothing to share
        return ()
    shares = []
    for name, first, total in zip(found.name, found.first_order, found.total, strict=True):
        stem = next(k for k in WORDS if name.startswith(k))
        words, source = WORDS[stem]
        number = name.removeprefix(stem).strip()
        if number:
            words = f"{words} ({plane.plane}, number {number})"
        elif source is not Source.TISSUE or stem == "moment_factor":
            words = f"{words} ({plane.plane})"
        shares.append((words, source, max(first, 0.0) * found.variance, max(total, 0.0) * found.variance))
    return tuple(shares)


def _finite(plane: _Plane) -> Callable[[Floats], Floats]:
    """The model of a plane's drift with a number for every draw."""

    def model(columns: Floats) -> Floats:
        angle = plane.angulation_deg(columns)
        # A draw without a number stands at the middle, so that the indices of the others keep their meaning.
        return np.asarray(np.where(np.isfinite(angle), angle, np.nanmedian(angle)))

    return model
