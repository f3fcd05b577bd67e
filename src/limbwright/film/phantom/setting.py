"""How a film is taken: distances, beam, detector, noise, presentation."""

from dataclasses import dataclass

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Projection
from limbwright.quantity import Value, require_within

_MEND = "Give the phantom an X-ray room that exists."


@dataclass(frozen=True, slots=True, kw_only=True)
class Detector(Value):
    """Detector, noise and presentation of one film."""

    pixel_mm: float = 0.143
    """Spacing of pixel centres at the detector. [mm]"""
    bits: int = 14
    """Bits stored, 12 or 14."""
    photons_per_mm2: float = 2.0e6
    """Detected photons per square millimetre in the open field; 0 turns quantum noise off. [1/mm2]"""
    electronic_noise: float = 0.0005
    """Standard deviation of the electronic noise as a fraction of the open-field signal, per pixel."""
    blur_mm: float = 0.09
    """Standard deviation of the detector's blur at the detector. [mm]"""
    focal_spot_mm: float = 0.6
    """Width of the focal spot; its penumbra grows with the distance of the bone from the detector. [mm]"""
    scatter_fraction: float = 0.10
    """Scatter behind the thickest part as a fraction of the signal of the open field, after the grid."""
    heel_effect: float = 0.08
    """Loss of intensity from the upper to the lower film edge, as a fraction."""
    tissue_texture: float = 1.0
    """Strength of the texture of muscle and spongy bone; 0 turns it off."""
    curve_power: float = 0.8
    """Power of the presentation curve: 1 is linear in attenuation, below 1 lifts what is dark."""
    compensation_per_mm: float = 0.0
    """Attenuation that the compensating filter adds per mm of film from its top to its bottom. [1/mm]"""
    seam_mm: tuple[float, ...] = ()
    """Heights of stitching seams, from the film's upper edge at the detector. Between them the film is an
    exposure of its own, with the source at its own middle, its own gain, heel effect and scatter. [mm]"""
    seam_shift_mm: float = 0.0
    """Sideways misfit at each seam, to the viewer's right. [mm]"""

    def __post_init__(self) -> None:
        require_within("pixel spacing", self.pixel_mm, 0.05, 2.0, "mm", next_step=_MEND)
        require_within("bits stored", self.bits, 12, 14, "bits", next_step=_MEND)
        require_within("presentation curve power", self.curve_power, 0.3, 2.0, "", next_step=_MEND)
        require_within("scatter", self.scatter_fraction, 0.0, 0.5, "", next_step=_MEND)
        require_within("heel effect", self.heel_effect, 0.0, 0.5, "", next_step=_MEND)


@dataclass(frozen=True, slots=True, kw_only=True)
class XraySetup(Value):
    """Geometry of one film. All lengths are at the detector unless a name says otherwise."""

    projection: Projection = Projection.FRONTAL
    """Projection."""
    source_detector_mm: float = 3000.0
    """Distance from focal spot to detector. [mm]"""
    bone_detector_mm: float = 150.0
    """Distance from the plane of the bones (femoral heads) to the detector. [mm]"""
    width_mm: float = 429.0
    """Width of the film. [mm]"""
    height_mm: float = 1144.0
    """Height of the film. [mm]"""
    beam_centre_x: float = 0.5
    """Where the central ray meets the film, fraction of its width from the viewer's left."""
    beam_centre_y: float = 0.5
    """Where the central ray meets the film, fraction of its height from above."""
    top_above_hip_mm: float = 130.0
    """Height of the film's upper edge above the femoral heads, in the plane of the bones. [mm]"""
    detector: Detector = Detector()
    """Detector, noise and presentation."""

    def __post_init__(self) -> None:
        require_within("source-detector distance", self.source_detector_mm, 800, 5000, "mm", next_step=_MEND)
        if not 30.0 <= self.bone_detector_mm <= 0.5 * self.source_detector_mm:
            raise OutOfRange(
                f"bones are {self.bone_detector_mm:g} mm from the detector and the source is "
                f"{self.source_detector_mm:g} mm from it.",
                where="X-ray setup",
                next_step="Put the bones between 30 mm and half the way to the source.",
            )
        for name in ("width_mm", "height_mm"):
            require_within(name, getattr(self, name), 20.0, 2000.0, "mm", next_step=_MEND)

    @property
    def magnification(self) -> float:
        """Magnification in the plane of the bones."""
        return self.source_detector_mm / (self.source_detector_mm - self.bone_detector_mm)

    @property
    def columns(self) -> int:
        """Pixels across."""
        return round(self.width_mm / self.detector.pixel_mm)

    @property
    def rows(self) -> int:
        """Pixels down."""
        return round(self.height_mm / self.detector.pixel_mm)
