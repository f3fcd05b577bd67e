"""What is known about a phantom film: in space, and as it falls on the film."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.angles import angles_in_space, angles_on_film
from limbwright.film.phantom.exposure import Presentation, blur_sd_mm
from limbwright.film.phantom.hardware import Ball, Hardware, Lengthening, Nail
from limbwright.film.phantom.implants import gap_ends, placed_nail
from limbwright.film.phantom.leg import LegShape
from limbwright.film.phantom.patient import PosedPatient
from limbwright.film.phantom.placement import PlacedLeg
from limbwright.film.phantom.ray import Beam
from limbwright.film.phantom.setting import XraySetup
from limbwright.film.phantom.walls import WallTruth, walls
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark, shown_in

Floats = NDArray[np.float64]
Point2 = tuple[float, float]
Point3 = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CircleTruth:
    """Outline of a ball on the film."""

    centre_px: Point2
    """Column and row. [px]"""
    radius_px: float
    """Mean radius; the outline is an ellipse whose axes differ by far less than a pixel. [px]"""
    diameter_mm: float
    """True diameter. [mm]"""
    toward_source_mm: float
    """Distance from the plane of the bones toward the source. [mm]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class NailTruth:
    """A nail on the film."""

    bone: Bone
    """Bone it lies in."""
    thick_axis_px: Floats
    """Axis of the thick part from its upper end, shape (n, 2), column and row. [px]"""
    rod_axis_px: Floats
    """Axis of the exposed rod, shape (n, 2). [px]"""
    thick_mm: float
    """Diameter of the thick part. [mm]"""
    thin_mm: float
    """Diameter of the rod. [mm]"""
    thick_px: float
    """Width of the thick part on the film, at its middle. [px]"""
    thin_px: float
    """Width of the rod on the film, at its middle. [px]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GapTruth:
    """A distraction gap on the film."""

    bone: Bone
    """Bone that was cut."""
    upper_px: Point2
    """Middle of the proximal fragment's cut face. [px]"""
    lower_px: Point2
    """Middle of the distal fragment's cut face. [px]"""
    gap_mm: float
    """Distance between the two, in space. [mm]"""
    varus_deg: float
    """Turn of the distal fragment since the cut, varus +. [deg]"""
    procurvatum_deg: float
    """Turn of the distal fragment since the cut, procurvatum +. [deg]"""
    density: float
    """New bone's attenuation above soft tissue as a fraction of cortical bone's; 0 without new bone."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LegTruth:
    """Truth about one leg on one film."""

    side: Side
    """Side of the patient."""
    shape: LegShape
    """The leg as it was given."""
    hardware: Hardware
    """Its treatment as given."""
    landmarks_px: Mapping[Landmark, Point2]
    """Landmark name to column and row on the film, pixel centres at whole numbers from 0. [px]"""
    landmarks_mm: Mapping[Landmark, Point3]
    """Landmark name to place in the patient frame: x anterior, y up, z to the patient's right, origin midway
    between the femoral heads. [mm]"""
    walls: tuple[WallTruth, ...]
    """Outer and inner walls of the shafts on the film."""
    nails: tuple[NailTruth, ...]
    """Nails on the film."""
    gaps: tuple[GapTruth, ...]
    """Osteotomies and distraction gaps on the film."""
    head_circle: CircleTruth
    """Outline of the femoral head on the film."""
    angles_deg: Mapping[str, float]
    """Joint-orientation angles in the bones' own planes. HKA varus +, JLCA opening lateral +; MAD is in mm,
    medial +."""
    angles_on_film_deg: Mapping[str, float]
    """The same as a reader finds them on this film; MAD in film pixels."""
    femur_length_mm: float
    """Femoral head centre to femur knee centre, in space. [mm]"""
    tibia_length_mm: float
    """Tibia knee centre to ankle centre, in space. [mm]"""
    px_per_mm: Mapping[Landmark, float]
    """Landmark name to the film's scale at that landmark's distance from the source. [px/mm]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Truth:
    """Truth about one film."""

    projection: Projection
    """Projection."""
    legs: tuple[LegTruth, ...]
    """Legs on the film, the patient's right leg first."""
    anterior_at: str
    """'viewer left' or 'viewer right' on a sagittal film, 'toward viewer' on a frontal one."""
    right_leg_at: str
    """'viewer left' on every frontal film; empty on a sagittal film."""
    px_per_mm_at_bone: float
    """Scale of the film in the plane of the bones. [px/mm]"""
    magnification: float
    """Magnification in the plane of the bones."""
    pixel_mm: float
    """Pixel spacing at the detector. [mm]"""
    balls: tuple[CircleTruth, ...]
    """Calibration balls."""
    ruler_ticks_px: tuple[Point2, ...]
    """Centimetre ticks of the ruler from above, column and row. [px]"""
    blur_sd_mm: float
    """Standard deviation of the system's blur at the detector, for the plane of the bones. [mm]"""
    presentation: Presentation
    """How attenuation became pixel values."""

    def leg(self, side: Side) -> LegTruth:
        """Truth about the leg of one side."""
        return next(leg for leg in self.legs if leg.side is side)


def ball_place(ball: Ball, beam: Beam) -> Floats:
    """Centre of a ball in the patient frame. Shape (3,), mm."""
    right, away = ball.viewer_right_mm, -ball.toward_source_mm
    if beam.projection is Projection.FRONTAL:
        return np.array([-away, -ball.below_hip_mm, -right])
    hand = 1.0 if beam.side is Side.RIGHT else -1.0
    return np.array([hand * right, -ball.below_hip_mm, beam.hip_z_mm + hand * away])


def sphere_outline(
    centre: Floats, radius_mm: float, beam: Beam, *, diameter_mm: float, toward_source_mm: float
) -> CircleTruth:
    """Outline of a sphere: the rays that graze it, on the film."""
    beam = beam.showing(centre)
    place = beam.into_beam(centre[None])[0]
    distance = float(np.linalg.norm(place))
    toward = place / distance
    rim = place * (1.0 - (radius_mm / distance) ** 2)
    size = radius_mm * np.sqrt(1.0 - (radius_mm / distance) ** 2)
    first = np.cross(toward, [0.0, 1.0, 0.0])
    first /= np.linalg.norm(first)
    second = np.cross(toward, first)
    angle = np.linspace(0.0, 2.0 * np.pi, 720, endpoint=False)[:, None]
    ring = rim + size * (np.cos(angle) * first + np.sin(angle) * second)
    flat = ring[:, :2] / ring[:, 2:] * beam.focal_px + np.array([beam.column0, beam.row0])
    middle = 0.5 * (flat.min(axis=0) + flat.max(axis=0))
    return CircleTruth(
        centre_px=(float(middle[0]), float(middle[1])),
        radius_px=float(np.linalg.norm(flat - middle, axis=1).mean()),
        diameter_mm=diameter_mm,
        toward_source_mm=toward_source_mm,
    )


def _nail_truth(leg: PlacedLeg, nail: Nail, hardware: Hardware, beam: Beam) -> NailTruth:
    line, depth = placed_nail(leg, nail, hardware)
    line = leg.into_patient(line)
    thick = depth <= nail.thick_length_mm
    distance = beam.into_beam(line)[:, 2]
    return NailTruth(
        bone=nail.bone,
        thick_axis_px=beam.project(line[thick]),
        rod_axis_px=beam.project(line[~thick]),
        thick_mm=nail.thick_mm,
        thin_mm=nail.thin_mm,
        thick_px=nail.thick_mm * beam.focal_px / float(np.median(distance[thick])),
        thin_px=nail.thin_mm * beam.focal_px / float(np.median(distance[~thick])),
    )


def _gap_truth(leg: PlacedLeg, cut: Lengthening, beam: Beam) -> GapTruth:
    ends = leg.into_patient(np.stack(gap_ends(leg, cut)))
    upper, lower = beam.project(ends)
    return GapTruth(
        bone=cut.bone,
        upper_px=(float(upper[0]), float(upper[1])),
        lower_px=(float(lower[0]), float(lower[1])),
        gap_mm=float(np.linalg.norm(ends[1] - ends[0])),
        varus_deg=cut.varus_deg,
        procurvatum_deg=cut.procurvatum_deg,
        density=cut.regenerate.density if cut.regenerate is not None else 0.0,
    )


def _leg_truth(posed: PosedPatient, number: int, beam: Beam) -> LegTruth:
    leg, own, places = posed.legs[number], posed.hardware[number], posed.landmarks[number]
    frontal = beam.projection is Projection.FRONTAL
    names = [name for name in Landmark if name in places and shown_in(name, beam.projection)]
    hand = 1.0 if leg.side is Side.RIGHT else -1.0
    flat = {name: beam.project(places[name][None])[0] for name in names}
    # Away from the midline on a frontal film; anterior on a sagittal one.
    outward = -hand if frontal else hand
    on_film = {str(name): np.array([outward * at[0], -at[1]]) for name, at in flat.items()}
    own_side = {name: at * np.array([1.0, 1.0, hand]) for name, at in places.items()}
    depth = {name: float(beam.into_beam(places[name][None])[0, 2]) for name in names}
    radius = leg.shape.head_radius_mm
    head = places["femoral_head_centre"]

    def length(start: str, end: str) -> float:
        return float(np.linalg.norm(places[end] - places[start]))

    return LegTruth(
        side=leg.side,
        shape=leg.shape,
        hardware=own,
        landmarks_px=MappingProxyType({name: (float(at[0]), float(at[1])) for name, at in flat.items()}),
        landmarks_mm=MappingProxyType(
            {Landmark(name): (float(at[0]), float(at[1]), float(at[2])) for name, at in places.items()}
        ),
        walls=walls(leg, own, beam, detail=posed.detail),
        nails=tuple(_nail_truth(leg, nail, own, beam) for nail in own.nails),
        gaps=tuple(_gap_truth(leg, cut, beam) for cut in own.lengthenings),
        head_circle=sphere_outline(
            head, radius, beam, diameter_mm=2 * radius, toward_source_mm=float(head[0])
        ),
        angles_deg=MappingProxyType(angles_in_space(own_side)),
        angles_on_film_deg=MappingProxyType(angles_on_film(on_film, frontal=frontal)),
        femur_length_mm=length("femoral_head_centre", "femur_knee_centre"),
        tibia_length_mm=length("tibia_knee_centre", "ankle_centre"),
        px_per_mm=MappingProxyType({name: beam.focal_px / depth[name] for name in names}),
    )


def film_truth(
    posed: PosedPatient,
    beam: Beam,
    setup: XraySetup,
    presentation: Presentation,
    *,
    balls: tuple[Ball, ...],
    ticks: Floats,
) -> Truth:
    """Collect the truth of one film. `ticks` are ruler ticks in the patient frame, shape (n, 3), mm."""
    sagittal = beam.projection is Projection.SAGITTAL
    front = "viewer right" if beam.side is Side.RIGHT else "viewer left"
    return Truth(
        projection=beam.projection,
        legs=tuple(_leg_truth(posed, number, beam) for number in range(len(posed.legs))),
        anterior_at=front if sagittal else "toward viewer",
        right_leg_at="" if sagittal else "viewer left",
        px_per_mm_at_bone=beam.px_per_mm,
        magnification=setup.magnification,
        pixel_mm=setup.detector.pixel_mm,
        balls=tuple(
            sphere_outline(
                ball_place(ball, beam),
                ball.diameter_mm / 2.0,
                beam,
                diameter_mm=ball.diameter_mm,
                toward_source_mm=ball.toward_source_mm,
            )
            for ball in balls
        ),
        ruler_ticks_px=tuple((float(c), float(r)) for c, r in beam.project(ticks)) if len(ticks) else (),
        blur_sd_mm=blur_sd_mm(setup),
        presentation=presentation,
    )
