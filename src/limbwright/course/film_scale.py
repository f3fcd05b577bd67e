"""Scale of a follow-up film from the nail: its known diameter, and the length of its thick part if shown."""

import math
from dataclasses import dataclass

from limbwright.course.film_geometry import distance_px, spot
from limbwright.course.film_marks import FollowUpMarks
from limbwright.error import Missing, OutOfRange
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Projection
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class NailScale(Value):
    """Millimetres of one pixel at the nail."""

    across_mm: float
    """From the nail's diameter [mm per px]."""
    across_relative_sd: float
    """Relative standard uncertainty of it."""
    along_mm: float
    """Along the nail: from the length of its thick part, which a tilted nail shortens alike; else as across
    [mm per px]."""
    along_relative_sd: float
    """Relative standard uncertainty of it."""
    tilt_deg: float | None
    """Tilt of the nail out of the film's plane that would explain the difference of both scales; None when
    the thick part's ends are not marked [deg]."""
    tilt_sd_deg: float | None
    """Standard uncertainty of the tilt; large for a small tilt [deg]."""


def shown_mm(nail: Nail, projection: Projection, *, length_mm: float) -> float:
    """Straight distance that a film shows from the entry end to a place beyond the bend. [mm]

    Parameters
    ----------
    length_mm : float
        The place, along the nail. [mm]

    Notes
    -----
    Lengths of a nail count along it. Of a part d before a bend b and a part r behind it, a film in the plane
    of the bend shows the third side of the triangle, sqrt(d² + r² + 2·d·r·cos b), and a film square to it
    d·cos b + r. The part behind the bend is taken to lie in the plane of the film.
    """
    before_mm = nail.bend_depth_mm
    behind_mm = length_mm - before_mm
    cosine = math.cos(math.radians(nail.bend_deg))
    if projection is nail.bend_plane:
        return math.sqrt(before_mm**2 + behind_mm**2 + 2 * before_mm * behind_mm * cosine)
    return before_mm * cosine + behind_mm


def nail_scale(marks: FollowUpMarks, nail: Nail, profile: Profile) -> NailScale:
    """Scale at the nail.

    Parameters
    ----------
    marks : FollowUpMarks
        At least one pair of nail edges; thick end and junction give the better scale along the nail.
    nail : Nail
        Its diameter and the length of its thick part are known.
    profile : Profile
        Reading error of the nail's diameter and edges.

    Raises
    ------
    Missing
        If no pair of nail edges is marked.
    OutOfRange
        If the thick part shows longer than the diameter allows by more than its uncertainty: another nail, or
        a wrong mark.

    Notes
    -----
    scale = diameter / width on the film, its uncertainty that of the width, less with more pairs. A nail
    tilted out of the plane by an angle t shows its length shortened by cos t and its diameter unchanged. A
    bent nail shows the straight distance of its thick part's ends (`shown_mm`).
    """
    if not marks.nail_edges:
        raise Missing(
            "no pair of nail edges is marked, so the film has no scale.",
            where=f"film {marks.film!r}",
            next_step="Mark both edges of the nail's thick part opposite each other.",
        )
    widths = [distance_px(spot(marks, a), spot(marks, b)) for a, b in marks.nail_edges]
    width_px = sum(widths) / len(widths)
    across = nail.thick_diameter_mm / width_px
    across_sd = profile.nail_edge_reading_error_mm / nail.thick_diameter_mm / math.sqrt(len(widths))
    if marks.nail_thick_end is None or marks.nail_junction is None:
        return NailScale(
            across_mm=across,
            across_relative_sd=across_sd,
            along_mm=across,
            along_relative_sd=across_sd,
            tilt_deg=None,
            tilt_sd_deg=None,
        )
    thick_mm = shown_mm(nail, marks.projection, length_mm=nail.thick_length_mm)
    thick_px = distance_px(spot(marks, marks.nail_thick_end), spot(marks, marks.nail_junction))
    along_sd = math.sqrt(2) * profile.nail_edge_reading_error_mm / thick_mm
    cosine = thick_px * across / thick_mm
    cosine_sd = cosine * math.hypot(across_sd, along_sd)
    if cosine > 1 + 3 * cosine_sd or cosine < 0.7:
        raise OutOfRange(
            f"the nail's thick part measures {thick_px * across:.0f} mm by its diameter of "
            f"{nail.thick_diameter_mm:g} mm, expected {thick_mm:.0f} mm or a little less.",
            where=f"film {marks.film!r}",
            next_step="Check the marked ends and edges, and that this is the nail that was put in.",
        )
    tilt = math.degrees(math.acos(min(1.0, cosine)))
    slope = max(math.sin(math.radians(tilt)), cosine_sd)
    return NailScale(
        across_mm=across,
        across_relative_sd=across_sd,
        along_mm=thick_mm / thick_px,
        along_relative_sd=along_sd,
        tilt_deg=tilt,
        tilt_sd_deg=math.degrees(min(1.0, cosine_sd / slope)),
    )
