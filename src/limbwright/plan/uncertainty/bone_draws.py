"""One bone's slips and drift as functions of the draws."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from limbwright.mechanics import (
    SHARED_FACTORS,
    Plane,
    Spread,
    Stage,
    drawn_course,
    expanded_spreads,
    layouts_of_draws,
    solve,
)
from limbwright.plan.decision import BonePlan
from limbwright.plan.forecast.construct import ModelledBone
from limbwright.plan.forecast.drift_course import BoneForecast, MomentOfCourse
from limbwright.plan.forecast.spread import play_beside_nail_mm, tissue_and_fit_spreads
from limbwright.plan.motion import Floats
from limbwright.plan.uncertainty.chain import SLIPS
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

SAMPLING_STEP_MM = 10.0  # twice as coarse as when layouts are compared: within 0.07 deg, docs/mechanics.md
FITTED = 256  # draws with both planes together; the others follow them within a tenth of a degree (one sd)
LEAST_DEG = 1e-6
OSTEOTOMY = SLIPS.index("osteotomy_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePlanned(Value):
    """One bone of the plan."""

    plan: BonePlan
    """Its plan, which is held while everything else varies."""
    forecast: BoneForecast | None = None
    """Its forecast: gives the construct and the coupled drift. Without it no drift is drawn."""


class PlaneDraws:
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
        """Name of one input in the whole chain; what both planes share has one name."""
        shared = name in SHARED_FACTORS
        return f"{self.modelled.bone} {name}" if shared else f"{self.modelled.bone} {self.plane} {name}"

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


class CoupledDraws:
    """Drift of both planes together at full length as a function of the draws.

    The first `FITTED` draws are solved with both planes together. All others take each plane alone and what
    the first ones say of the difference, by least squares over the planes' answers and the inputs.
    """

    def __init__(self, planes: Mapping[Plane, PlaneDraws], end: MomentOfCourse) -> None:
        self.planes = planes
        first = planes[Plane.FRONTAL]
        self.modelled, self.construct, self.stage = first.modelled, first.construct, first.stage
        self.centre = {d.input(s.name): s.centre for d in planes.values() for s in d.spreads}
        self.width = {d.input(s.name): s.spread for d in planes.values() for s in d.spreads}
        # One stage knows nothing of what new bone holds fast on the way: scaled to the end of the course.
        self.scale = np.ones(2)
        middle = {name: np.array([x]) for name, x in self.centre.items()}
        wanted = np.array([end.in_plane(p).angulation_deg or 0.0 for p in Plane])
        angle = self._solved(middle)[0, :2]
        self.scale = np.divide(wanted, angle, out=np.ones(2), where=np.abs(angle) > LEAST_DEG)
        self.expected = self._solved(middle)[0]

    def drawn(self, values: Mapping[str, Floats]) -> Floats:
        """Varus, procurvatum [deg], shift of the distal fragment at its cut face to lateral and to the front
        [mm] of the chain's draws, (n, 4); NaN without a number.
        """
        solved = self._solved({name: values[name][:FITTED] for name in self.centre})
        if len(values[next(iter(self.centre))]) <= FITTED:
            return solved
        alone = [column for draws in self.planes.values() for column in draws.drawn(values)]
        inputs = [
            (values[name] - centre) / self.width[name]
            for name, centre in self.centre.items()
            if self.width[name] > 0
        ]
        terms = np.column_stack(
            [np.ones(len(alone[0])), *alone, alone[0] ** 2, alone[2] ** 2, alone[0] * alone[2], *inputs]
        )
        known = np.isfinite(solved).all(axis=1) & np.isfinite(terms[:FITTED]).all(axis=1)
        slopes = np.linalg.lstsq(terms[:FITTED][known], solved[known], rcond=None)[0]
        return np.concatenate([solved, terms[FITTED:] @ slopes])

    def _solved(self, values: Mapping[str, Floats]) -> Floats:
        own = {
            s.name if s.name in SHARED_FACTORS else f"{plane} {s.name}": values[draws.input(s.name)]
            for plane, draws in self.planes.items()
            for s in draws.spreads
        }
        count, layout = len(next(iter(own.values()))), self.construct.blocking_screws
        solved = layouts_of_draws(self.construct, [layout], [self.stage], own, count=count)
        angle, step = solved.angulation_deg[:, 0] * self.scale, solved.step_mm[:, 0] * self.scale
        shift = _distal_steps_mm(self.modelled, step, angle, self.stage.lengthening_mm)
        return np.concatenate([angle, shift], axis=1)


class BoneDraws:
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
        self.both = None
        if bone.forecast is not None and len(self.planes) == len(Plane):
            self.both = CoupledDraws(self.planes, bone.forecast.planned.end)

    def input(self, slip: int) -> str:
        """Name of one slip among the draws."""
        return f"{self.plan.bone} slip {slip}"

    def spreads(self) -> list[Spread]:
        """Slips and the inputs of the drift."""
        slips = [Spread(name=self.input(i), centre=0, spread=sd) for i, sd in enumerate(self.sd)]
        named = {s.name: s for plane in self.planes.values() for s in plane.named()}
        return [*slips, *named.values()]

    def slips(self, drawn: Mapping[str, Floats]) -> tuple[Floats, dict[Plane, Floats]]:
        """Slips beside what the plan's readings hold already, (n, 5), and the angulation by plane."""
        slips = np.stack([drawn[self.input(i)] for i in range(len(self.sd))], axis=1)
        angulation: dict[Plane, Floats] = {}
        if self.both is not None:
            drift = self.both.drawn(drawn)
            slips[:, :4] += drift - self.both.expected
            return slips, dict(zip(Plane, drift.T, strict=False))
        for i, plane in enumerate(Plane):
            own = self.planes.get(plane)
            if own is not None:
                angle, step = own.drawn(drawn)
                angulation[plane] = angle
                slips[:, i] += angle - own.expected[0]
                slips[:, i + 2] += step - own.expected[1]
        return slips, angulation


def _plane(bone: BonePlanned, plane: Plane, profile: Profile) -> PlaneDraws | None:
    if bone.forecast is None:
        return None
    end = bone.forecast.planned.end.in_plane(plane)
    if end.angulation_deg is None:
        return None
    modelled, stage = bone.forecast.modelled, bone.forecast.stages[-1]
    construct = replace(modelled.construct, contact_step_mm=SAMPLING_STEP_MM)
    alone = solve(construct, plane, stage.load.in_plane(plane), lengthening_mm=stage.lengthening_mm)
    reference = alone.angulation_deg
    if reference is None or abs(reference) < LEAST_DEG:
        return None
    ratio = min(max(end.angulation_deg / reference, 0.0), 1.0)
    spreads = tissue_and_fit_spreads(bone.plan, bone.forecast.region, plane, profile)
    return PlaneDraws(modelled, plane, stage, spreads, ratio)
