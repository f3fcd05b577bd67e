"""Kalman filter and Rauch-Tung-Striebel smoother for a linear state with Gaussian noise.

Rauch, Tung & Striebel, Maximum likelihood estimates of linear dynamic systems, AIAA Journal 1965 (value from
memory). Checked against a general library in tests/outside.
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


class Belief(NamedTuple):
    """A state with its uncertainty."""

    mean: Floats
    """(n,) best estimate."""
    covariance: Floats
    """(n, n) covariance."""


class Transition(NamedTuple):
    """How a state goes over into the next: x' = F x + noise of covariance Q."""

    matrix: Floats
    """(n, n) F."""
    noise: Floats
    """(n, n) Q."""


class Reading(NamedTuple):
    """What was measured of a state: z = H x + noise of covariance R."""

    values: Floats
    """(m,) z."""
    matrix: Floats
    """(m, n) H."""
    noise: Floats
    """(m, m) R."""


def predicted(belief: Belief, transition: Transition) -> Belief:
    """The state one transition later."""
    f, q = transition
    return Belief(f @ belief.mean, f @ belief.covariance @ f.T + q)


def in_turn(first: Transition, second: Transition) -> Transition:
    """Two transitions made one."""
    f = second.matrix
    return Transition(f @ first.matrix, f @ first.noise @ f.T + second.noise)


def updated(belief: Belief, reading: Reading) -> Belief:
    """The state after a reading.

    Notes
    -----
    K = P H' (H P H' + R)^-1; covariance in Joseph's form, (I - K H) P (I - K H)' + K R K', which stays
    symmetric and positive.
    """
    z, h, r = reading
    s = h @ belief.covariance @ h.T + r
    gain = np.linalg.solve(s, h @ belief.covariance).T
    rest = np.eye(len(belief.mean)) - gain @ h
    return Belief(
        belief.mean + gain @ (z - h @ belief.mean),
        rest @ belief.covariance @ rest.T + gain @ r @ gain.T,
    )


class Filtered(NamedTuple):
    """Estimates at every time of a course."""

    predicted: tuple[Belief, ...]
    """Before the reading of that time."""
    updated: tuple[Belief, ...]
    """After it."""


def filtered(
    start: Belief, transitions: tuple[Transition, ...], readings: tuple[Reading | None, ...]
) -> Filtered:
    """Run the filter.

    Parameters
    ----------
    start : Belief
        Before the first reading.
    transitions : tuple of Transition
        One less than readings: from each time to the next.
    readings : tuple of Reading or None
        One for each time; None where nothing was measured.
    """
    before, after = [], []
    belief = start
    for index, reading in enumerate(readings):
        if index:
            belief = predicted(belief, transitions[index - 1])
        before.append(belief)
        if reading is not None:
            belief = updated(belief, reading)
        after.append(belief)
    return Filtered(tuple(before), tuple(after))


def smoothed(run: Filtered, transitions: tuple[Transition, ...]) -> tuple[Belief, ...]:
    """Estimates at every time from all readings, earlier and later.

    Notes
    -----
    C = P F' P(predicted)^-1, backward from the last; a state that does not move makes P(predicted) singular,
    hence the pseudo-inverse.
    """
    beliefs = [run.updated[-1]]
    for index in range(len(transitions) - 1, -1, -1):
        here, ahead = run.updated[index], run.predicted[index + 1]
        gain = (
            here.covariance @ transitions[index].matrix.T @ np.linalg.pinv(ahead.covariance, hermitian=True)
        )
        later = beliefs[0]
        beliefs.insert(
            0,
            Belief(
                here.mean + gain @ (later.mean - ahead.mean),
                here.covariance + gain @ (later.covariance - ahead.covariance) @ gain.T,
            ),
        )
    return tuple(beliefs)
