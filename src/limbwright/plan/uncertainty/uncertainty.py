"""The end of a leg's plan over everything that is unsure, and which of it matters most."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.error import OutOfRange
from limbwright.finding import ordered
from limbwright.limb.reading import Measure
from limbwright.mechanics import (
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
from limbwright.plan.forecast.construct import ModelledBone
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.forecast.spread import play_beside_nail_mm, tissue_and_fit_spreads
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats
from limbwright.plan.uncertainty.chain import FRONTAL, BoneEnd, EndChain, Slip, end_chain
from limbwright.plan.uncertainty.uncertainty_finding import uncertainty_findings
from limbwright.plan.uncertainty.values import (
    LENGTH,
    Criterion,
    Matter,
    PlanUncertainty,
    Source,
    drift_name,
    is_drift,
    overlap_name,
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
OSTEOTOMY = SLIP_WORDS.index("level of the osteotomy")
SCALE, LENGTH_READ = "scale of the frontal film", "marks of both legs' length"


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
    now_sd_mm: float = 0.0
    """Standard uncertainty of the difference as it stands, by its marks, without the scale [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePlanned(Value):
    """One bone of the plan."""

    plan: BonePlan
    """Its plan, which is held while everything else varies."""
    forecast: BoneForecast | None = None
    """Its forecast: gives the construct and the coupled drift. Without it no drift is drawn."""


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
        Wanted readings; a reading without one is compared with what is planned.
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
    Errors of landmarks, scale and execution enter the readings in proportion (`chain`), drift through the
    contact solver draw by draw, each plane alone and scaled to the coupled answer. Draws without a number
    count as outside every tolerance.
    """
    chosen = draws_of or Draws()
    chain = chain_of(leg, bones, near=near)
    drawn_bones = [_Bone(b, profile) for b in bones]
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
        matters=_matters(chain, spreads, drawn_bones, lengths) if shares else (),
        findings=(),
    )
    return replace(made, findings=ordered(uncertainty_findings(made, profile)))


def chain_of(leg: LegModel, bones: Sequence[BonePlanned], *, near: EndChain | None = None) -> EndChain:
    """Readings of a leg's plan at full length with the forecast drift, and their slopes."""
    drifts = [None if b.forecast is None else b.forecast.planned.drift() for b in bones]
    ends = [BoneEnd(plan=b.plan, slip=Slip.of_drift(d)) for b, d in zip(bones, drifts, strict=True)]
    return end_chain(leg, ends, near=near)


class _Plane:
    """Drift of one plane at full length as a function of its inputs."""

    def __init__(
        self,
        modelled: ModelledBone,
        plane: Plane,
        stage: Stage,
        spreads: tuple[Spread, ...],
        ratio: float,
    ) -> None:
        self.modelled, self.plane, self.stage, self.ratio = modelled, plane, stage, ratio
        self.construct = replace(modelled.construct, contact_step_mm=SAMPLING_STEP_MM)
        self.spreads = expanded_spreads(self.construct, plane, spreads)
        angle, step = self.drift(np.array([[s.centre for s in self.spreads]]))
        self.expected = float(angle[0]), float(step[0])

    def named(self) -> tuple[Spread, ...]:
        """The inputs under names of their own in the whole chain."""
        return tuple(replace(s, name=self.input(s.name)) for s in self.spreads)

    def input(self, name: str) -> str:
        """Name of one input in the whole chain."""
        return f"{self.modelled.bone} {self.plane} {name}"

    def drift(self, columns: Floats) -> tuple[Floats, Floats]:
        """Angulation [deg] and shift of the distal fragment at its cut face [mm] of draws (n, inputs), scaled
        to the coupled answer, (n,) each.
        """
        angle, step = drawn_course(self.construct, self.plane, (self.stage,), self.spreads, columns)
        angle, step = angle[:, 0] * self.ratio, step[:, 0] * self.ratio
        return angle, _distal_steps_mm(self.modelled, step, angle, self.stage.lengthening_mm)

    def angulation_deg(self, columns: Floats) -> Floats:
        """Angulation of draws (n, inputs), scaled to the coupled answer, (n,). [deg]"""
        return self.drift(columns)[0]

    def drawn(self, values: Mapping[str, Floats]) -> tuple[Floats, Floats]:
        """Angulation and shift of the chain's draws."""
        return self.drift(np.column_stack([values[self.input(s.name)] for s in self.spreads]))


def _distal_steps_mm(
    modelled: ModelledBone, step_mm: Floats, angulation_deg: Floats, lengthening_mm: float
) -> Floats:
    """As `ModelledBone.distal_step_mm`, which is linear in both, for many draws."""
    by_step = modelled.distal_step_mm(1.0, 0.0, lengthening_mm)
    by_angle = modelled.distal_step_mm(0.0, 1.0, lengthening_mm)
    return by_step * step_mm + by_angle * angulation_deg


class _Bone:
    """One bone's slips and drift as functions of the draws."""

    def __init__(self, bone: BonePlanned, profile: Profile) -> None:
        self.plan = bone.plan
        plan = bone.plan
        self.overlap_mm = plan.nail.thick_length_mm - plan.osteotomy.depth_mm - plan.lengthening_mm
        off_line = min(profile.path_error_mm, play_beside_nail_mm(plan) / 2)
        self.sd = (
            profile.correction_error_deg,
            profile.correction_error_deg,
            off_line,
            off_line,
            profile.osteotomy_level_error_mm,
        )
        found = {p: _plane(bone, p, profile) for p in Plane}
        self.planes = {p: d for p, d in found.items() if d is not None}

    def input(self, slip: int) -> str:
        """Name of one slip among the draws."""
        return f"{self.plan.bone} slip {slip}"

    def spreads(self) -> list[Spread]:
        """Slips and the inputs of the drift."""
        slips = [Spread(name=self.input(i), centre=0, spread=sd) for i, sd in enumerate(self.sd)]
        return slips + [s for plane in self.planes.values() for s in plane.named()]

    def slips(self, drawn: Mapping[str, Floats]) -> tuple[Floats, dict[Plane, Floats]]:
        """Slips beside what the plan's readings hold already, (n, 5), and the angulation by plane."""
        slips = np.stack([drawn[self.input(i)] for i in range(len(self.sd))], axis=1)
        angulation = {}
        for i, plane in enumerate(Plane):
            own = self.planes.get(plane)
            if own is not None:
                angle, step = own.drawn(drawn)
                angulation[plane] = angle
                slips[:, i] += angle - own.expected[0]
                slips[:, i + 2] += step - own.expected[1]
        return slips, angulation


def _plane(bone: BonePlanned, plane: Plane, profile: Profile) -> _Plane | None:
    if bone.forecast is None:
        return None
    end = bone.forecast.planned.end.in_plane(plane)
    if end.angulation_deg is None:
        return None
    modelled, stage = bone.forecast.modelled, bone.forecast.stages[-1]
    construct = replace(modelled.construct, contact_step_mm=SAMPLING_STEP_MM)
    alone = solve(construct, plane, stage.load.in_plane(plane), lengthening_mm=stage.lengthening_mm)
    reference = alone.angulation_deg
    if reference is None or abs(reference) < 1e-6:
        return None
    ratio = min(max(end.angulation_deg / reference, 0.0), 1.0)
    spreads = tissue_and_fit_spreads(bone.plan, bone.forecast.region, plane, profile)
    return _Plane(modelled, plane, stage, spreads, ratio)


def _spreads(
    chain: EndChain, leg: LegModel, bones: Sequence[_Bone], lengths: LengthsOfLeg | None
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
        wanted.append((measure.value, targets.get(measure, float(chain.planned[i])), tolerance, unit))
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


Shares = list[tuple[str, Source, float, float]]
"""Input, source, and the variance it explains alone and in all."""


def _matters(
    chain: EndChain, spreads: tuple[Spread, ...], bones: Sequence[_Bone], lengths: LengthsOfLeg | None
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


def _contact_shares(plane: _Plane) -> Shares:
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


def _finite(plane: _Plane) -> Callable[[Floats], Floats]:
    """The model of a plane's drift with a number for every draw."""

    def model(columns: Floats) -> Floats:
        angle = plane.angulation_deg(columns)
        # A draw without a number stands at the middle, so that the indices of the others keep their meaning.
        return np.asarray(np.where(np.isfinite(angle), angle, np.nanmedian(angle)))

    return model
