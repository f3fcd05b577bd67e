"""Someone who clicks 4 mm off on one film, and what is noted about what the film gave back."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from accuracy_films import generator
from limbwright.error import LimbwrightError
from limbwright.film import phantom
from limbwright.film.phantom import WallKind
from limbwright.film.reading import Development
from limbwright.film.snap import find_ball, find_ticks
from limbwright.film.tracing import Plate, ShaftTrace, trace_shaft, width_curve
from limbwright.limb.anatomy import Side

PX_MM = 0.143
CLICK_MM = 4.0
LEAST_SUPPORT = 0.6
"""Support below which a trace says that it is a poor proposal; such are counted, not measured."""


class Part(StrEnum):
    """What can be measured by itself (`--only`)."""

    SCALE = "scale"
    JOINTS = "joints"
    WALLS = "walls"
    REGISTER = "register"
    NEW_BONE = "new-bone"
    SIDE = "side"


@dataclass(frozen=True)
class Reading:
    """One error, in the unit of its quantity, and the standard uncertainty that was stated."""

    quantity: str
    error: float
    sd: float | None


class Reader:
    """Someone who clicks 4 mm off on one film."""

    def __init__(
        self,
        film: phantom.PhantomFilm,
        stream: tuple[int, ...],
        parts: frozenset[Part],
        stance: phantom.Stance | None = None,
    ) -> None:
        self.film, self.stream, self.parts, self.stance = film, stream, parts, stance
        self.part, self.rng = Part.SCALE, generator(*stream)
        self.plate = Plate(grey=film.picture, row_mm=PX_MM, column_mm=PX_MM)
        self.mm_per_px = 1.0 / film.truth.px_per_mm_at_bone
        self.at_bone = self.mm_per_px / PX_MM
        self.readings: list[Reading] = []
        self.refused: list[str] = []
        self.blur_mm, self.blur_sd_mm = 0.1, 0.04

    def begin(self, part: Part, side: Side = Side.RIGHT) -> None:
        """Start a part; its clicks do not depend on which other parts are run."""
        self.part = part
        self.rng = generator(*self.stream, list(Part).index(part) + 1, list(Side).index(side))

    def click(self, at) -> tuple[float, float]:
        turn = self.rng.uniform(0, 2 * np.pi)
        reach = CLICK_MM / self.mm_per_px
        return float(at[0] + reach * np.cos(turn)), float(at[1] + reach * np.sin(turn))

    def note(self, quantity: str, error: float, sd: float | None) -> None:
        if np.isfinite(error) and self.part in self.parts:
            self.readings.append(Reading(quantity, float(error), sd))

    def refuse(self, what: str) -> None:
        if self.part in self.parts:
            self.refused.append(what)

    def ball(self) -> None:
        self.begin(Part.SCALE)
        truth = self.film.truth.balls[0]
        shown = self.film.truth.presentation
        stated = Development(low=shown.low, high=shown.high, power=shown.power, white=shown.white)
        # Without the curve last, as nearly all films are: that blur goes into everything else.
        for quantity, development in (
            ("scale from the ball, film states its curve", stated),
            ("scale from the ball, curve not stated", None),
        ):
            try:
                found = find_ball(
                    self.plate,
                    self.click(truth.centre_px),
                    diameter_mm=truth.diameter_mm,
                    development=development,
                )
            except LimbwrightError:
                self.refuse("ball")
                return
            self.note(
                quantity,
                100 * (found.radius_px / truth.radius_px - 1),
                100 * found.radius_sd_px / found.radius_px,
            )
        if found.blur_mm is not None:
            self.blur_mm, self.blur_sd_mm = found.blur_mm, found.blur_sd_mm or 0.04

    def ruler(self) -> None:
        ticks = self.film.truth.ruler_ticks_px
        try:
            found = find_ticks(self.plate, self.click(ticks[3]), self.click(ticks[-4]))
        except LimbwrightError:
            self.refuse("ruler")
            return
        px_per_mm = np.hypot(*np.subtract(found.last_px, found.first_px)) / (
            found.intervals * found.interval_mm
        )
        length_px = np.hypot(*np.subtract(ticks[-1], ticks[0]))
        true_px_per_mm = length_px / (10.0 * (len(ticks) - 1))
        self.note(
            "scale from a ruler",
            100 * (px_per_mm / true_px_per_mm - 1),
            100 * np.sqrt(2) * found.end_sd_px / length_px,
        )

    def trace(self, axis_px) -> ShaftTrace | None:
        clicks = tuple(self.click(axis_px[i]) for i in (3, len(axis_px) // 2, len(axis_px) - 4))
        try:
            trace = trace_shaft(self.plate, clicks, blur_mm=self.blur_mm, blur_sd_mm=self.blur_sd_mm)
        except LimbwrightError:
            self.refuse("trace of a shaft")
            return None
        if trace.support < LEAST_SUPPORT:
            self.refuse("trace of a shaft")
            return None
        return trace

    def walls(
        self, trace: ShaftTrace, outer, canal, *, nailed: bool, from_share: float = 0.0, film: str = ""
    ) -> None:
        skip = round(from_share * len(outer.axis_px))
        true = {
            kind: [_offsets(trace, points[skip:]) for points in (wall.low_px, wall.high_px)]
            for kind, wall in ((WallKind.OUTER, outer), (WallKind.CANAL, canal))
        }
        if not nailed:
            for edge, at in zip(trace.outer, true[WallKind.OUTER], strict=True):
                error = (edge.offset_mm - at) * self.at_bone
                for row in np.flatnonzero(np.isfinite(error))[::7]:
                    self.note(f"outer cortex{film}", error[row], edge.sd_mm[row] * self.at_bone)
        curve = width_curve(trace, trace.inner)
        error = (curve.width_mm - (true[WallKind.CANAL][1] - true[WallKind.CANAL][0])) * self.at_bone
        beside = np.zeros(len(error), bool)
        # A nail that is not there is an error of the canal, not one beside a nail.
        if trace.nail is not None and nailed:
            beside = np.isfinite(trace.nail.left_mm)
        for row in np.flatnonzero(np.isfinite(error))[::7]:
            name = "canal width beside a nail" if beside[row] else f"canal width{film}"
            self.note(name, error[row], curve.sd_mm[row] * self.at_bone)


def _offsets(trace: ShaftTrace, points_px) -> np.ndarray:
    """Offsets of true wall points at the depths of a trace."""
    guide = trace.guide
    points = np.asarray(points_px) * np.array([trace.column_mm, trace.row_mm])
    near = np.argmin(np.hypot(guide.x_mm[:, None] - points[:, 0], guide.y_mm[:, None] - points[:, 1]), axis=0)
    away_x, away_y = points[:, 0] - guide.x_mm[near], points[:, 1] - guide.y_mm[near]
    offset = away_x * guide.normal_x[near] + away_y * guide.normal_y[near]
    depth = guide.depth_mm[near] - away_x * guide.normal_y[near] + away_y * guide.normal_x[near]
    order = np.argsort(depth)
    return np.interp(trace.depth_mm, depth[order], offset[order], left=np.nan, right=np.nan)


def direction_deg(points) -> float:
    fit = np.polyfit(points[:, 1], points[:, 0], 1)
    return float(np.degrees(np.arctan(fit[0])))


def between_deg(first, second) -> float:
    cross = first[0] * second[1] - first[1] * second[0]
    return float(np.degrees(np.arctan2(abs(cross), first @ second)))
