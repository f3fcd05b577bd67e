"""Lay a piece of one film onto another: turn, shift and grey scale, by the grey values themselves."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.tracing.plate import Floats, Mask, Plate, Point

LEAST_AGREEMENT = 0.45
LEVELS_MM = (1.6, 0.8, 0.4)
"""Sample spacing of the coarse, middle and fine pass; engineering judgement. [mm]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Patch:
    """A piece of a film that moves as one: a fragment of bone, or hardware fixed to it."""

    centre_px: Point
    """Its middle on the earlier film, column and row [px]."""
    along_px: Point
    """A second point on its long axis, further down [px]."""
    length_mm: float
    """Extent along that axis [plate mm]."""
    width_mm: float
    """Extent across it."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Laid:
    """Motion that lays the patch of the earlier film onto the later one; film axes x right, y down."""

    turn_deg: float
    """Turn from x toward y (clockwise as seen) [deg]."""
    centre_mm: Floats
    """Where the patch's centre lies on the later film, shape (2,), in the later plate's millimetres."""
    from_mm: Floats
    """Where it lay on the earlier film, shape (2,), in the earlier plate's millimetres."""
    covariance: Floats
    """Of turn [rad] and the centre's x and y [mm], shape (3, 3)."""
    agreement: float
    """Correlation of the two films over the patch, -1 to 1."""


def lay_patch(earlier: Plate, later: Plate, patch: Patch, guess_px: Point, *, turn_deg: float = 0.0) -> Laid:
    """Find a patch of the earlier film on the later one.

    Parameters
    ----------
    earlier, later : Plate
        Both scaled to the plane of the bone, so that the patch has the same size on both.
    patch : Patch
        What to look for.
    guess_px : tuple of float
        Rough place of its centre on the later film, up to 4 mm off.
    turn_deg : float
        Rough turn. [deg]

    Raises
    ------
    Refused
        Where the films do not agree over the patch.

    Notes
    -----
    Gauss-Newton on grey values freed of slow changes, from coarse to fine, with Tukey's weights so that what
    moved differently (screws of the other fragment, new bone) loses its say. The uncertainty takes
    residuals as
    alike over about 2 mm.
    """
    x0, y0, weight_window, axis = _grid(earlier, patch)
    start = earlier.mm(np.array([patch.centre_px]))[0]
    at = later.mm(np.array([guess_px]))[0]
    turn = np.radians(turn_deg)
    # A coarse look around the guess, since Gauss-Newton only runs downhill.
    metal = (
        metal_from(earlier, x0 + start[0], y0 + start[1]),
        metal_from(later, x0 + at[0], y0 + at[1]),
    )
    turn, at = _searched(earlier, later, (x0, y0), start=start, at=at, turn=turn, metal=metal)
    agreement, normal, scatter, count = 0.0, np.eye(3), 1.0, 1.0
    for spacing in LEVELS_MM:
        every = max(1, round(spacing / LEVELS_MM[-1]))
        x, y, fade = x0[::every, ::every], y0[::every, ::every], weight_window[::every, ::every]
        window = fade
        fixed, in_earlier = _plain(
            earlier, x + start[0], y + start[1], spacing=spacing, step=LEVELS_MM[-1] * every, metal=metal[0]
        )
        for _ in range(25):
            cosine, sine = np.cos(turn), np.sin(turn)
            over, down = cosine * x - sine * y, sine * x + cosine * y
            moving, in_later = _plain(
                later, over + at[0], down + at[1], spacing=spacing, step=LEVELS_MM[-1] * every, metal=metal[1]
            )
            window = fade * (in_earlier & in_later)
            # Slopes along the grid's own axes, turned into film axes.
            d_row, d_column = np.gradient(moving, LEVELS_MM[-1] * every)
            along, across = axis
            slope_x = cosine * (d_row * along[0] + d_column * across[0]) - sine * (
                d_row * along[1] + d_column * across[1]
            )
            slope_y = sine * (d_row * along[0] + d_column * across[0]) + cosine * (
                d_row * along[1] + d_column * across[1]
            )
            gain = float((window * fixed * moving).sum() / max((window * moving**2).sum(), 1e-9))
            gain = float(np.clip(gain, 0.2, 5.0))
            error = fixed - gain * moving
            spread = 1.4826 * float(np.median(np.abs(error[window > 0]))) + 1e-9
            weight = window * np.clip(1.0 - (error / (4.685 * spread)) ** 2, 0.0, None) ** 2
            columns = np.stack(
                [gain * (slope_y * over - slope_x * down), gain * slope_x, gain * slope_y], axis=-1
            )
            normal = np.einsum("ij,ijk,ijl->kl", weight, columns, columns)
            step = np.linalg.solve(
                normal + 1e-9 * np.trace(normal) * np.eye(3),
                np.einsum("ij,ijk,ij->k", weight, columns, error),
            )
            step[1:] = np.clip(step[1:], -spacing, spacing)
            step[0] = np.clip(step[0], -0.02, 0.02)
            turn, at = turn + step[0], at + step[1:]
            scatter = float(np.sqrt((weight * error**2).sum() / max(weight.sum(), 1e-9)))
            if abs(step[0]) < 2e-6 and np.abs(step[1:]).max() < 2e-4:
                break
        count = float((weight > 0.05).sum())
        mean_f, mean_m = np.average(fixed, weights=window), np.average(moving, weights=window)
        covariance_fm = np.average((fixed - mean_f) * (moving - mean_m), weights=window)
        variance = np.average((fixed - mean_f) ** 2, weights=window) * np.average(
            (moving - mean_m) ** 2, weights=window
        )
        agreement = float(covariance_fm / max(np.sqrt(variance), 1e-12))
    if agreement < LEAST_AGREEMENT:
        raise Refused(
            f"the two films agree over the fragment with a correlation of {agreement:.2f}, "
            f"{LEAST_AGREEMENT:g} is needed.",
            where="registration of the follow-up film",
            next_step="Click nearer to the same place on both films, choose a longer piece of the "
            "fragment, or measure the angle with lines.",
        )
    alike = (2.0 / LEVELS_MM[-1]) ** 2
    covariance = scatter**2 * np.linalg.inv(normal) * max(1.0, min(alike, count))
    return Laid(
        turn_deg=float(np.degrees(turn)),
        centre_mm=at,
        from_mm=start,
        covariance=np.asarray(covariance, dtype=np.float64),
        agreement=agreement,
    )


def _grid(plate: Plate, patch: Patch) -> tuple[Floats, Floats, Floats, tuple[Floats, Floats]]:
    """Offsets of the samples from the centre, a window that fades to the border, and the grid's axes."""
    centre, below = plate.mm(np.array([patch.centre_px, patch.along_px]))
    along = below - centre
    along = along / np.hypot(*along)
    across = np.array([along[1], -along[0]])
    step = LEVELS_MM[-1]
    rows = np.arange(-0.5 * patch.length_mm, 0.5 * patch.length_mm, step)
    columns = np.arange(-0.5 * patch.width_mm, 0.5 * patch.width_mm, step)
    x = rows[:, None] * along[0] + columns[None, :] * across[0]
    y = rows[:, None] * along[1] + columns[None, :] * across[1]
    fade = np.clip(2.0 - np.abs(rows) / (0.25 * patch.length_mm), 0.0, 1.0)[:, None] * np.clip(
        2.0 - np.abs(columns) / (0.25 * patch.width_mm), 0.0, 1.0
    )
    return x, y, np.asarray(np.sqrt(fade)), (along, across)


def metal_from(plate: Plate, x: Floats, y: Floats) -> float:
    """Grey value above which a piece of a film shows metal; infinite where it shows none.

    Notes
    -----
    Otsu's threshold on the brighter half; it counts as metal only where both classes lie far apart against
    their own spread, which bone and soft tissue do not.
    """
    grey, usable = plate.sampled(x, y)
    bright = np.sort(grey[usable].astype(np.float64).ravel())[grey[usable].size // 2 :]
    if len(bright) < 100:
        return float("inf")
    count = np.arange(1, len(bright))
    total = np.cumsum(bright)
    low = total[:-1] / count
    high = (total[-1] - total[:-1]) / (len(bright) - count)
    between = count * (len(bright) - count) * (high - low) ** 2
    cut = int(between.argmax())
    spread = np.hypot(np.std(bright[: cut + 1]), np.std(bright[cut + 1 :]))
    if high[cut] - low[cut] < 3.2 * spread or len(bright) - cut < 0.02 * len(bright):
        return float("inf")
    return float(0.5 * (low[cut] + high[cut]))


def _plain(
    plate: Plate, x: Floats, y: Floats, *, spacing: float, step: float, metal: float
) -> tuple[Floats, Mask]:
    """Grey freed of noise below and slow changes above what the pass can use, and where it counts.

    Metal and unusable pixels are left out of both means, so that they leave no trace beside them.
    """
    from scipy.ndimage import binary_dilation, gaussian_filter

    grey, usable = plate.sampled(x, y)
    counts = usable
    if np.isfinite(metal):
        hidden = binary_dilation(grey > metal, iterations=max(1, round(1.2 / step)))
        counts = usable & ~hidden
    share = counts.astype(np.float64)
    value = np.where(counts, grey.astype(np.float64), 0.0)

    def mean(sigma: float) -> Floats:
        return np.asarray(gaussian_filter(value, sigma) / np.maximum(gaussian_filter(share, sigma), 1e-3))

    return mean(0.6 * spacing / step) - mean(6.0 / step), counts


def _searched(
    earlier: Plate,
    later: Plate,
    grid: tuple[Floats, Floats],
    *,
    start: Floats,
    at: Floats,
    turn: float,
    metal: tuple[float, float],
) -> tuple[float, Floats]:
    """Best of shifts up to 6 mm and turns up to 4 degrees about a guess."""
    every = 4
    x, y = grid[0][::every, ::every], grid[1][::every, ::every]
    spacing = LEVELS_MM[-1] * every
    fixed, here = _plain(earlier, x + start[0], y + start[1], spacing=spacing, step=spacing, metal=metal[0])
    best = (-np.inf, turn, at)
    for more in np.radians(np.arange(-4.0, 4.1, 2.0)):
        cosine, sine = np.cos(turn + more), np.sin(turn + more)
        over, down = cosine * x - sine * y, sine * x + cosine * y
        for shift_x in np.arange(-6.0, 6.1, 2.0):
            for shift_y in np.arange(-6.0, 6.1, 2.0):
                there = at + np.array([shift_x, shift_y])
                moving, counts = _plain(
                    later, over + there[0], down + there[1], spacing=spacing, step=spacing, metal=metal[1]
                )
                both = here & counts
                if both.sum() < 0.2 * both.size:
                    continue
                score = float(np.corrcoef(fixed[both], moving[both])[0, 1])
                if score > best[0]:
                    best = (score, float(turn + more), there)
    return best[1], best[2]
