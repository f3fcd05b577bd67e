"""Where a nail enters its bone and how far it can go: the surfaces at both ends of the bone."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.error import Missing
from limbwright.finding import Finding, Number, Severity
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import ANTERIOR, LATERAL, PROXIMAL, Floats, Triple, triple, unit
from limbwright.plan.path import crossing
from limbwright.published import Source, Status
from limbwright.quantity import ANTERIOR_POSTERIOR, LATERAL_MEDIAL, Sense, Value, directed

READ_OFF = Source(text="landmarks of the films and the nail's line", status=Status.DERIVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneSurface(Value):
    """The plane in which a nail's line leaves a bone."""

    point_mm: Triple
    """A point of it, leg frame as it stands [mm]."""
    normal: Triple
    """Unit normal, out of the bone."""
    what: str
    """What it stands for, in words."""

    def met_by(self, point_mm: npt.ArrayLike, direction: npt.ArrayLike) -> Floats:
        """Where a line meets it, (3,). [mm]"""
        return crossing(point_mm, direction, self.point_mm, self.normal)


def joint_plane(
    leg: LegModel,
    centre: Landmark,
    frontal: tuple[Landmark, Landmark],
    sagittal: tuple[Landmark, Landmark] | None,
) -> tuple[Floats, Floats]:
    """Plane of a joint line: its centre and proximal unit normal, from its line on each film.

    Parameters
    ----------
    frontal : pair of Landmark
        Medial and lateral end.
    sagittal : pair of Landmark or None
        Posterior and anterior end. A line that is not marked, or None, counts as level.
    """
    slope = {LATERAL: 0.0, ANTERIOR: 0.0}
    for across, ends, projection in (
        (LATERAL, frontal, Projection.FRONTAL),
        (ANTERIOR, sagittal, Projection.SAGITTAL),
    ):
        if ends is None or (projection is Projection.SAGITTAL and not leg.has_sagittal):
            continue
        points = leg.points(projection)
        if ends[0] in points and ends[1] in points:
            a, b = (points[end].array() for end in ends)
            slope[across] = float((b[PROXIMAL] - a[PROXIMAL]) / (b[across] - a[across]))
    normal = np.zeros(3)
    normal[PROXIMAL], normal[LATERAL], normal[ANTERIOR] = 1.0, -slope[LATERAL], -slope[ANTERIOR]
    return leg.place_mm(centre), unit(normal)


def plateau(leg: LegModel) -> tuple[Floats, Floats]:
    """Centre and proximal normal of the tibial plateau."""
    return joint_plane(
        leg,
        Landmark.TIBIA_KNEE_CENTRE,
        (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
        (Landmark.PLATEAU_POSTERIOR, Landmark.PLATEAU_ANTERIOR),
    )


def plafond(leg: LegModel) -> tuple[Floats, Floats]:
    """Centre and proximal normal of the tibial plafond."""
    return joint_plane(
        leg,
        Landmark.ANKLE_CENTRE,
        (Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
        (Landmark.PLAFOND_POSTERIOR, Landmark.PLAFOND_ANTERIOR),
    )


def femur_top(leg: LegModel) -> tuple[Floats, Floats]:
    """The level of the tip of the greater trochanter, else that of the femoral head's centre."""
    for landmark in (Landmark.GREATER_TROCHANTER_TIP, Landmark.FEMORAL_HEAD_CENTRE):
        if leg.has(landmark):
            return leg.place_mm(landmark), np.array([0.0, 1.0, 0.0])
    raise Missing(
        "neither the tip of the greater trochanter nor the centre of the femoral head is marked.",
        where=f"{leg.side} leg, femur",
        next_step="Mark one of them: the nail's proximal end is counted from it.",
    )


def femur_bottom(leg: LegModel) -> tuple[Floats, Floats]:
    """Centre and proximal normal of the distal femoral joint line."""
    return joint_plane(
        leg,
        Landmark.FEMUR_KNEE_CENTRE,
        (Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
        None,  # the condyles have no straight joint line in the sagittal plane
    )


def bone_ends(leg: LegModel, bone: Bone, direction: Direction) -> tuple[BoneSurface, BoneSurface]:
    """The surface at the nail's entry and the one at its far end, as they stand."""
    if bone is Bone.TIBIA:
        return (
            _surface(plateau(leg), 1.0, "tibial plateau"),
            _surface(plafond(leg), -1.0, "plafond"),
        )
    top = _surface(femur_top(leg), 1.0, "tip of the greater trochanter")
    bottom = _surface(femur_bottom(leg), -1.0, "distal femoral joint line")
    return (top, bottom) if direction is Direction.ANTEGRADE else (bottom, top)


def _surface(plane: tuple[Floats, Floats], sign: float, what: str) -> BoneSurface:
    return BoneSurface(point_mm=triple(plane[0]), normal=triple(sign * plane[1]), what=what)


def entry_finding(leg: LegModel, bone: Bone, direction: Direction, entry_mm: Floats) -> Finding:
    """Where the entry lies, in distances that can be found in theatre."""
    numbers: list[Number] = []
    if bone is Bone.TIBIA:
        reference, name = leg.place_mm(Landmark.TIBIA_KNEE_CENTRE), "knee centre"
    elif direction is Direction.RETROGRADE:
        reference, name = leg.place_mm(Landmark.FEMUR_KNEE_CENTRE), "knee centre"
    else:
        reference, name = femur_top(leg)[0], "tip of the greater trochanter"
    offset = float(entry_mm[LATERAL] - reference[LATERAL])
    numbers.append(Number(name=f"entry lateral of the {name}", value=offset, unit="mm"))
    words = f"The nail enters the {bone} {_beside(offset, LATERAL_MEDIAL, name)}"
    if leg.has_sagittal:
        landmark, edge = (
            (Landmark.PLATEAU_ANTERIOR, "anterior edge of the plateau")
            if bone is Bone.TIBIA and Landmark.PLATEAU_ANTERIOR in leg.sagittal
            else (None, name)
        )
        base = leg.sagittal[landmark].array() if landmark is not None else reference
        behind = float(base[ANTERIOR] - entry_mm[ANTERIOR])
        numbers.append(Number(name=f"entry behind the {edge}", value=behind, unit="mm"))
        words += f" and {_beside(-behind, ANTERIOR_POSTERIOR, edge)}"
    return Finding(
        id="nail-entry",
        severity=Severity.NOTE,
        words=f"{words}.",
        next_step="Find it on the image intensifier in both planes; if the joint does not allow it, move the "
        "path.",
        numbers=tuple(numbers),
        rule="The entry is where the nail's line, with its bend, leaves the bone.",
        source=READ_OFF,
    )


def _beside(offset_mm: float, senses: tuple[Sense, Sense], name: str) -> str:
    way = directed(offset_mm, unit="mm", senses=senses)
    if way.direction is Sense.NONE:
        return f"in line with the {name}"
    return f"{way.magnitude:.1f} mm {way.direction} of the {name}"
