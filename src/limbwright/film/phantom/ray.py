"""From closed meshes to attenuation at the detector: pose in the beam, path lengths, sums."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.mesh import Mesh, Points
from limbwright.film.phantom.setting import XraySetup
from limbwright.limb.anatomy import Projection, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """Where the source stands and how the film lies, in the patient's frame.

    Patient frame: x anterior, y proximal, z to the patient's right, origin midway between the femoral heads.
    Beam frame: u to the viewer's right, v down, w from the source to the detector, origin at the source.
    """

    projection: Projection
    side: Side | None
    """Side of a sagittal film; None on a frontal film of both legs."""
    source_detector_mm: float
    source_bone_mm: float
    source_height_mm: float
    """Height of the source above the femoral heads. [mm]"""
    source_right_mm: float
    """Offset of the source from the middle of the film, to the viewer's right. [mm]"""
    hip_z_mm: float
    """Where the bone plane of a sagittal film cuts the z axis. [mm]"""
    pixel_mm: float
    column0: float
    """Column of the central ray."""
    row0: float
    """Row of the central ray."""

    @property
    def focal_px(self) -> float:
        """Source-detector distance in pixels."""
        return self.source_detector_mm / self.pixel_mm

    @property
    def px_per_mm(self) -> float:
        """Film pixels per millimetre in the bone plane, at right angles to the central ray. [px/mm]"""
        return self.focal_px / self.source_bone_mm

    def into_beam(self, points: Points) -> Points:
        """Points of the patient frame in the beam frame. Shape (n, 3), mm."""
        x, y, z = points[..., 0], points[..., 1], points[..., 2]
        if self.projection is Projection.FRONTAL:
            right, away = -z, -x
        else:
            # Seen from the lateral side: anterior at the viewer's right on a right leg, left on a left.
            hand = 1.0 if self.side is Side.RIGHT else -1.0
            right, away = hand * x, hand * (z - self.hip_z_mm)
        return np.stack(
            [right - self.source_right_mm, self.source_height_mm - y, self.source_bone_mm + away], axis=-1
        )

    def project(self, points: Points) -> NDArray[np.float64]:
        """Column and row of points of the patient frame, pixel centres at whole numbers. Shape (n, 2), px."""
        beam = self.into_beam(np.asarray(points, dtype=np.float64))
        flat = beam[..., :2] / beam[..., 2:] * self.focal_px
        return np.asarray(flat + np.array([self.column0, self.row0]))


def beam_for(setup: XraySetup, side: Side | None, hip_distance_mm: float) -> Beam:
    """Place source and film for a setup; hips lie at height 0 and x = 0."""
    pixel = setup.detector.pixel_mm
    # Whole pixels: the middle of the film is the middle of its columns, whatever the width divides into.
    down = setup.beam_centre_y * setup.rows * pixel
    hip_z = hip_distance_mm / 2.0
    return Beam(
        projection=setup.projection,
        side=side if setup.projection is Projection.SAGITTAL else None,
        source_detector_mm=setup.source_detector_mm,
        source_bone_mm=setup.source_detector_mm - setup.bone_detector_mm,
        source_height_mm=setup.top_above_hip_mm - down / setup.magnification,
        source_right_mm=(setup.beam_centre_x - 0.5) * setup.columns * pixel,
        hip_z_mm=hip_z if side is Side.RIGHT else -hip_z,
        pixel_mm=pixel,
        column0=setup.beam_centre_x * setup.columns - 0.5,
        row0=setup.beam_centre_y * setup.rows - 0.5,
    )


def paths(meshes: Iterable[Mesh], beam: Beam, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Sum of attenuation times path length over closed meshes, shape (rows, columns), no unit."""
    from limbwright.film.phantom.ray_kernel import add_paths, stretch_by_obliquity

    image = np.zeros(shape, dtype=np.float32)
    focal = beam.focal_px
    # A sagittal film is looked at from the detector's side, which turns every triangle inside out.
    hand = 1.0 if beam.projection is Projection.FRONTAL else -1.0
    for mesh in meshes:
        add_paths(
            image,
            beam.into_beam(mesh.points),
            mesh.triangles,
            hand * mesh.attenuation_per_mm,
            focal,
            beam.column0,
            beam.row0,
            beam.source_bone_mm,
        )
    stretch_by_obliquity(image, focal, beam.column0, beam.row0)
    return image
