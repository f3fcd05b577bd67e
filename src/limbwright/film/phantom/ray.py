"""From closed meshes to attenuation at the detector: pose in the beam, path lengths, sums."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

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
    exposures: "tuple[tuple[int, Beam], ...]" = ()
    """First row and beam of each exposure of a stitched film, from above; empty where there is only one."""

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
        if self.exposures:
            every = np.stack([beam.project(points) for _, beam in self.exposures])
            shown = self._exposure_of(every[..., 1])
            return np.asarray(np.take_along_axis(every, shown[None, ..., None], axis=0)[0])
        beam = self.into_beam(np.asarray(points, dtype=np.float64))
        flat = beam[..., :2] / beam[..., 2:] * self.focal_px
        return np.asarray(flat + np.array([self.column0, self.row0]))

    def bands(self, rows: int) -> "tuple[tuple[int, int, Beam], ...]":
        """First row, row after the last, and beam of each exposure of a film with so many rows."""
        starts = self.exposures or ((0, self),)
        ends = [*(first for first, _ in starts[1:]), rows]
        return tuple((first, last, beam) for (first, beam), last in zip(starts, ends, strict=True))

    def showing(self, point: Points) -> "Beam":
        """The beam of the exposure that shows a point of shape (3,): itself on a film of one exposure."""
        if not self.exposures:
            return self
        rows = np.stack([beam.project(point[None])[:, 1] for _, beam in self.exposures])
        return self.exposures[int(self._exposure_of(rows)[0])][1]

    def _exposure_of(self, rows: NDArray[np.float64]) -> NDArray[np.intp]:
        """Which exposure shows each point; `rows` has one row per exposure."""
        number = np.zeros(rows.shape[1:], dtype=np.intp)
        # Near a seam the two exposures may both show a point, or neither: the upper one decides.
        for upper, (first, _) in enumerate(self.exposures[1:]):
            number = np.where((number == upper) & (rows[upper] >= first - 0.5), upper + 1, number)
        return number


def seam_rows(setup: XraySetup) -> tuple[int, ...]:
    """First row below each stitching seam."""
    rows = (round(seam / setup.detector.pixel_mm) for seam in setup.detector.seam_mm)
    return tuple(sorted({row for row in rows if 0 < row < setup.rows}))


def _stitched(beam: Beam, setup: XraySetup) -> Beam:
    """The same film put together from several exposures of one pose, each with the source at its own middle.

    Exposures are laid together in the plane of the bones: what lies nearer the source or the detector does
    not fit at the seam, which is what stitched films show.
    """
    detector = setup.detector
    starts = [0, *seam_rows(setup)]
    exposures = []
    for number, (first, last) in enumerate(zip(starts, [*starts[1:], setup.rows], strict=True)):
        row = 0.5 * (first + last) - 0.5
        exposures.append(
            (
                first,
                replace(
                    beam,
                    row0=row,
                    column0=beam.column0 + number * detector.seam_shift_mm / detector.pixel_mm,
                    source_height_mm=beam.source_height_mm - (row - beam.row0) / beam.px_per_mm,
                ),
            )
        )
    return replace(beam, exposures=tuple(exposures))


def beam_for(setup: XraySetup, side: Side | None, hip_distance_mm: float) -> Beam:
    """Place source and film for a setup; hips lie at height 0 and x = 0."""
    pixel = setup.detector.pixel_mm
    # Whole pixels: the middle of the film is the middle of its columns, whatever the width divides into.
    down = setup.beam_centre_y * setup.rows * pixel
    hip_z = hip_distance_mm / 2.0
    beam = Beam(
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
    return _stitched(beam, setup) if setup.detector.seam_mm else beam


def paths(meshes: Iterable[Mesh], beam: Beam, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Sum of attenuation times path length over closed meshes, shape (rows, columns), no unit."""
    from limbwright.film.phantom.ray_kernel import add_paths, stretch_by_obliquity

    image = np.zeros(shape, dtype=np.float32)
    every = tuple(meshes)
    # A sagittal film is looked at from the detector's side, which turns every triangle inside out.
    hand = 1.0 if beam.projection is Projection.FRONTAL else -1.0
    for first, last, own in beam.bands(shape[0]):
        band, row0 = image[first:last], own.row0 - first
        for mesh in every:
            add_paths(
                band,
                own.into_beam(mesh.points),
                mesh.triangles,
                hand * mesh.attenuation_per_mm,
                own.focal_px,
                own.column0,
                row0,
                own.source_bone_mm,
            )
        stretch_by_obliquity(band, own.focal_px, own.column0, row0)
    return image
