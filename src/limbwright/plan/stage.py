"""The leg at one moment of the time axis with everything measured on it, and how the bone ends stand."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.discrepancy import Discrepancy, discrepancy
from limbwright.limb.hinge import wedge_base_mm
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure, Readings
from limbwright.limb.view import View
from limbwright.plan.canal import outer_edges_mm
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import ANTERIOR, LATERAL, rotation_vector_deg, turned_deg
from limbwright.plan.osteotomy import area_in_contact, width_in_contact
from limbwright.plan.reduction import Reduction
from limbwright.quantity import Value


class StageName(StrEnum):
    """Moments on the time axis that geometry alone decides."""

    AS_IT_STANDS = "as it stands"
    CORRECTED = "corrected"
    FULL_LENGTH = "at full length"


@dataclass(frozen=True, slots=True, kw_only=True)
class LegStage(Value):
    """The leg at one moment, with everything that is measured on it."""

    name: StageName
    """Which moment."""
    frontal: View
    """What a frontal film would show."""
    sagittal: View | None
    """What a sagittal film would show; None without one."""
    frontal_readings: Readings
    """Measurements of the frontal view."""
    sagittal_readings: Readings | None
    """Measurements of the sagittal view; None without one."""
    discrepancy: Discrepancy | None
    """Length against the other leg; None without the other leg."""

    def value(self, measure: Measure) -> float | None:
        """One measured value, signed as inside the package; None when it was not measured."""
        for found in (self.frontal_readings, self.sagittal_readings):
            reading = found.get(measure) if found is not None else None
            if reading is not None:
                return reading.value.value
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class CutFaces(Value):
    """How the bone ends stand to each other once corrected, not yet lengthened."""

    bone: Bone
    """Bone that is cut."""
    lengthens: bool
    """False at a second osteotomy, which is only corrected."""
    varus_deg: float
    """Turn of the part below, varus + [deg]."""
    procurvatum_deg: float
    """Turn of the part below, procurvatum + [deg]."""
    external_deg: float
    """Turn of the part below, external + [deg]."""
    angulation_deg: float
    """Size of the angular correction in its own plane, without rotation [deg]."""
    shift_lateral_mm: float
    """Shift of the distal bone end, lateral + [mm]."""
    shift_anterior_mm: float
    """Shift of the distal bone end, anterior + [mm]."""
    width_frontal_mm: float | None
    """Outer width of the bone at the cut on the frontal film; None when not traced [mm]."""
    width_sagittal_mm: float | None
    """The same on the sagittal film [mm]."""
    width_in_contact_percent: float | None
    """Share of the bone's width in contact, the lesser of both planes; None when not traced [%]."""
    area_in_contact_percent: float | None
    """Share of the cut faces that overlap, as ellipses; None unless both planes are traced [%]."""
    concave_opening_mm: float | None
    """Opening on the concave side when the ends meet on the nail's line; the convex side overlaps by as
    much until bone is taken away or the ends stand apart; None when not traced [mm]."""

    @property
    def where(self) -> str:
        """Which osteotomy, in words."""
        return "osteotomy" if self.lengthens else "second osteotomy"

    @property
    def shift_mm(self) -> float:
        """Size of the shift. [mm]"""
        return float(np.hypot(self.shift_lateral_mm, self.shift_anterior_mm))


def leg_stage(
    name: StageName,
    leg: LegModel,
    other_leg: View | None,
    *,
    age_years: float,
    foot_difference_mm: float | None = None,
) -> LegStage:
    """Everything measured on a leg at one moment."""
    frontal, sagittal = leg.views()
    return LegStage(
        name=name,
        frontal=frontal,
        sagittal=sagittal,
        frontal_readings=readings(frontal, age_years=age_years),
        sagittal_readings=readings(sagittal, age_years=age_years) if sagittal is not None else None,
        discrepancy=discrepancy(frontal, other_leg, foot_difference_mm=foot_difference_mm)
        if other_leg is not None
        else None,
    )


def cut_faces(leg: LegModel, reduced: Reduction) -> CutFaces:
    """How the bone ends of one osteotomy stand once corrected."""
    cut, u = reduced.cut, np.array(reduced.along)
    edges = {p: outer_edges_mm(leg, cut.bone, p, cut.point_mm, u) for p in Projection}
    centre = np.array(cut.point_mm)
    widths: dict[Projection, float | None] = dict.fromkeys(Projection)
    for projection, across in ((Projection.FRONTAL, LATERAL), (Projection.SAGITTAL, ANTERIOR)):
        edge = edges[projection]
        if edge is not None:
            widths[projection] = edge[1] - edge[0]
            centre[across] += (edge[0] + edge[1]) / 2
    moved = reduced.motion.moved(centre) - centre
    moved -= (moved @ u) * u
    rotation = reduced.motion.matrix()
    varus, procurvatum, external = (float(x) for x in turned_deg(rotation))
    vector = rotation_vector_deg(rotation)
    angulation = float(np.linalg.norm(vector - (vector @ u) * u))
    frontal, sagittal = widths[Projection.FRONTAL], widths[Projection.SAGITTAL]
    shares = [
        float(width_in_contact(moved[across], width))
        for across, width in ((LATERAL, frontal), (ANTERIOR, sagittal))
        if width is not None
    ]
    return CutFaces(
        bone=cut.bone,
        lengthens=reduced.lengthens,
        varus_deg=varus,
        procurvatum_deg=procurvatum,
        external_deg=external,
        angulation_deg=angulation,
        shift_lateral_mm=float(moved[LATERAL]),
        shift_anterior_mm=float(moved[ANTERIOR]),
        width_frontal_mm=frontal,
        width_sagittal_mm=sagittal,
        width_in_contact_percent=100 * min(shares) if shares else None,
        area_in_contact_percent=100
        * float(area_in_contact(moved[LATERAL], moved[ANTERIOR], frontal, sagittal))
        if frontal is not None and sagittal is not None
        else None,
        # The ends meet on the nail's line, so half the wedge opens on one side and closes on the other.
        concave_opening_mm=wedge_base_mm(bone_width_mm=frontal, correction_deg=angulation) / 2
        if frontal is not None
        else None,
    )
