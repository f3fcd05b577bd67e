"""Toggle envelope: how far the fragments can tilt around a rigid nail, whatever the load. Closed form."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Contradiction
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.plane import Plane, angulation_deg
from limbwright.mechanics.plane_problem import PlaneProblem, Reals, geometry_row, plane_problem
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope(Value):
    """Range of angulation that a rigid nail leaves open."""

    lowest_deg: float
    """Most valgus or recurvatum; negative unless the nail is held on one side."""
    highest_deg: float
    """Most varus or procurvatum."""

    @property
    def width_deg(self) -> float:
        """Whole play."""
        return self.highest_deg - self.lowest_deg


def envelope(construct: Construct, plane: Plane, *, lengthening_mm: float = 0.0) -> Envelope:
    """Toggle envelope of a construct in one plane.

    Notes
    -----
    The slope a straight nail can take in one fragment is the least of (hi_j - lo_i) / (z_j - z_i) over all
    pairs i above j, and of the tilt a screw hole allows; the two fragments add. This is the exact optimum
    of the linear program over position and slope of a rigid nail (each pair is a dual vertex). The bend of
    the nail is in the gaps; the play of its joint adds.

    Raises
    ------
    Contradiction
        If a rigid nail does not fit: walls or supports exclude each other.
    """
    problem = plane_problem(construct, plane)
    return envelope_of(problem, geometry_row(problem, lengthening_mm))


def envelope_of(problem: PlaneProblem, geometry: Reals) -> Envelope:
    """Toggle envelope of a prepared plane problem at one geometry."""
    from limbwright.mechanics.row_kernel import assemble

    m = problem.row_count
    z, kind, rows = np.zeros(m), np.zeros(m, dtype=np.int64), np.zeros((m, 5))
    compliance, lo, hi = np.zeros(m), np.zeros(m), np.zeros(m)
    bad = assemble(
        geometry,
        problem.entry_walls,
        problem.moving_walls,
        problem.stations,
        problem.locks,
        problem.blockers,
        problem.blocker_depth,
        problem.blocker_clearance,
        z,
        kind,
        rows,
        compliance,
        lo,
        hi,
    )
    in_moving = np.where(kind == 0, rows[:, 2] != 0.0, rows[:, 3] != 0.0)
    ranges = []
    for moving in (False, True):
        value = (kind == 0) & (in_moving == moving)
        tilt = (kind == 1) & (in_moving == moving)
        up = _steepest(z[value], lo[value], hi[value], hi[tilt])
        down = _steepest(z[value], -hi[value], -lo[value], -lo[tilt])
        ranges.append((-down, up))
    joint = geometry[12]
    # The moving fragment's slope against the nail is the nail's slope against it, turned round.
    largest = ranges[0][1] - ranges[1][0] + joint
    smallest = ranges[0][0] - ranges[1][1] - joint
    if bad >= 0 or any(high < low for low, high in ranges):
        raise Contradiction(
            f"a rigid nail does not fit ({problem.plane} plane, lengthening {geometry[7]:g} mm).",
            where="toggle envelope",
            next_step="Check nail diameter, canal width and the screws' places.",
        )
    return Envelope(lowest_deg=angulation_deg(largest), highest_deg=angulation_deg(smallest))


def _steepest(z: Reals, lo: Reals, hi: Reals, tilt: Reals) -> float:
    """Largest slope of a straight line with lo <= a + b z <= hi, no more than any tilt allows."""
    span = z[None, :] - z[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(span > 1e-9, (hi[None, :] - lo[:, None]) / span, np.inf)
    best = float(np.min(slope, initial=np.inf))
    return min(best, float(np.min(tilt, initial=np.inf)))
