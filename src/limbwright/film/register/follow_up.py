"""What moved since the last film: the distal fragment against the proximal one."""

from dataclasses import dataclass

import numpy as np

from limbwright.film.film import ViewerSide
from limbwright.film.register.rigid import Laid, Patch, lay_patch
from limbwright.film.tracing.canal import ShaftLine
from limbwright.film.tracing.plate import Floats, Plate, Point
from limbwright.quantity import Measured

LINE_TURN_SD_DEG = 0.15
"""Standard uncertainty of a turn from two mid-diaphyseal lines of 60 mm, between two stances: a bone is not
round, least where it widens. It falls with the cube of the length; engineering judgement, as found on phantom
films. [deg]"""
GREY_TURN_SD_DEG = 0.07
"""Standard uncertainty of a turn from grey values beyond what their scatter says, where the films agree
fully; engineering judgement, as found on phantom films. [deg]"""
DISAGREEMENT_SD_DEG = 1.2
"""The same for films that do not agree at all: joints at the far ends move by themselves. [deg]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FragmentMotion:
    """Motion of the distal fragment against the proximal one between two films of one projection."""

    toward_viewer_right: Measured
    """Turn of the distal fragment's lower end toward the viewer's right + [deg]."""
    gained: Measured
    """Distance of the fragments along the proximal fragment's axis, drawn apart + [plate mm]."""
    shifted_right: Measured
    """Shift of the distal fragment at the cut toward the viewer's right + [plate mm]."""
    agreement: float
    """Weaker correlation of the two films over the fragments, 0 to 1."""
    proximal_turn_deg: float
    """How much the whole leg was turned on the later film, as the proximal fragment shows [deg]."""

    def angulation(self, *, varus_or_procurvatum_is: ViewerSide) -> Measured:
        """The turn with the sign of the package: varus + (frontal) or procurvatum + (sagittal).

        Parameters
        ----------
        varus_or_procurvatum_is : ViewerSide
            Where the lower end of the distal fragment moves in varus (medial) or procurvatum (posterior).
        """
        turn = self.toward_viewer_right
        sign = 1.0 if varus_or_procurvatum_is is ViewerSide.VIEWER_RIGHT else -1.0
        return Measured(value=sign * turn.value, sd=turn.sd, unit="deg")


def fragment_motion(
    earlier: Plate,
    later: Plate,
    *,
    proximal: Patch,
    distal: Patch,
    proximal_guess_px: Point,
    distal_guess_px: Point,
    cut_px: Point,
    earlier_lines: tuple[ShaftLine, ShaftLine] | None = None,
    later_lines: tuple[ShaftLine, ShaftLine] | None = None,
) -> FragmentMotion:
    """Measure what moved between two films, directly on the grey values.

    Parameters
    ----------
    earlier, later : Plate
        Both scaled to the plane of the bone.
    proximal, distal : Patch
        A piece of each fragment on the earlier film: bone alone, or bone with hardware that is fixed to
        it. Leave out what moves otherwise (the rod of a telescoping nail in the proximal patch, new bone).
    proximal_guess_px, distal_guess_px : points
        Rough places of their centres on the later film, up to 4 mm off.
    cut_px : point
        The upper end of the distal fragment at the cut, on the earlier film: where the shift is told.
    earlier_lines, later_lines : tuple of ShaftLine, optional
        Mid-diaphyseal lines of the proximal and the distal fragment on both films, as traced: the turn is
        then the mean of both ways, weighted by their uncertainty. Grey values count most for short
        fragments, which reach into the joint's end of the bone; lines count most for long ones.

    Raises
    ------
    Refused
        Where a fragment is not found again.

    Notes
    -----
    A film shows a projection: a leg turned about its long axis between films changes the outline of the
    bone, and part of it looks like angulation of a bowed or bent bone. The stated uncertainty has a term
    for it, 0.05 degrees and 0.1 mm (engineering judgement for up to 5 degrees of turn).
    """
    first = lay_patch(earlier, later, proximal, proximal_guess_px)
    second = lay_patch(earlier, later, distal, distal_guess_px, turn_deg=first.turn_deg)
    turns = [
        _turn(laid, lines)
        for laid, lines in zip((first, second), _line_pairs(earlier_lines, later_lines), strict=True)
    ]
    turn = turns[0][0] - turns[1][0]
    spread_turn = float(np.hypot(turns[0][1], turns[1][1]))
    along = _axis(earlier, proximal)
    across = np.array([along[1], -along[0]])
    cut = earlier.mm(np.array([cut_px]))[0]
    # Where the distal fragment's material at the cut lies now, in the frame of the proximal fragment.
    moved = _carried(second, cut)
    back = _brought_back(first, moved)
    difference = back - cut
    spread = float(np.sqrt(_spread_at(first, moved) + _spread_at(second, moved)))
    return FragmentMotion(
        toward_viewer_right=Measured(value=turn, sd=float(np.hypot(spread_turn, 0.05)), unit="deg"),
        gained=Measured(value=float(difference @ along), sd=float(np.hypot(spread, 0.10)), unit="mm"),
        shifted_right=Measured(value=float(difference @ across), sd=float(np.hypot(spread, 0.10)), unit="mm"),
        agreement=min(first.agreement, second.agreement),
        proximal_turn_deg=first.turn_deg,
    )


def _line_pairs(
    earlier: tuple[ShaftLine, ShaftLine] | None, later: tuple[ShaftLine, ShaftLine] | None
) -> tuple[tuple[ShaftLine, ShaftLine] | None, tuple[ShaftLine, ShaftLine] | None]:
    """Line of each fragment on the earlier and the later film."""
    if earlier is None or later is None:
        return None, None
    return (earlier[0], later[0]), (earlier[1], later[1])


def _turn(laid: Laid, lines: tuple[ShaftLine, ShaftLine] | None) -> tuple[float, float]:
    """Turn of one fragment from grey values and, if traced, from its line, weighted; and its sd. [deg]"""
    grey_sd = float(
        np.linalg.norm(
            (
                np.degrees(np.sqrt(laid.covariance[0, 0])),
                GREY_TURN_SD_DEG,
                DISAGREEMENT_SD_DEG * (1.0 - laid.agreement),
            )
        )
    )
    if lines is None:
        return laid.turn_deg, grey_sd
    # A turn from x toward y moves the lower end of a line toward the viewer's left.
    by_line = lines[0].direction_deg - lines[1].direction_deg
    length_mm = min(line.length_mm for line in lines)
    # A line that bows on one film only follows something else than the bone there.
    unlike_deg = np.degrees(abs(lines[0].bow_mm - lines[1].bow_mm) / length_mm)
    own_deg = np.hypot(lines[0].direction_sd_deg, lines[1].direction_sd_deg)
    shape_deg = LINE_TURN_SD_DEG * (60.0 / length_mm) ** 3
    line_sd = float(np.linalg.norm((own_deg, shape_deg, unlike_deg)))
    first, second = grey_sd**-2, line_sd**-2
    return (first * laid.turn_deg + second * by_line) / (first + second), float((first + second) ** -0.5)


def _axis(plate: Plate, patch: Patch) -> Floats:
    centre, below = plate.mm(np.array([patch.centre_px, patch.along_px]))
    return np.asarray((below - centre) / np.hypot(*(below - centre)))


def _matrix(turn_deg: float) -> Floats:
    turn = np.radians(turn_deg)
    return np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])


def _carried(laid: Laid, point: Floats) -> Floats:
    return np.asarray(laid.centre_mm + _matrix(laid.turn_deg) @ (point - laid.from_mm))


def _brought_back(laid: Laid, point: Floats) -> Floats:
    return np.asarray(laid.from_mm + _matrix(laid.turn_deg).T @ (point - laid.centre_mm))


def _spread_at(laid: Laid, point: Floats) -> float:
    """Variance of each coordinate of a carried point. [mm2]"""
    lever = float(np.hypot(*(point - laid.centre_mm)))
    c = laid.covariance
    return float(0.5 * (c[1, 1] + c[2, 2]) + lever**2 * c[0, 0])
