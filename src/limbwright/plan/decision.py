"""The plan: an immutable set of all decisions about one leg.

Frame of every `Place`: the leg as it stands, origin at the tibial knee centre, side resolved (both legs
alike): `anterior_mm`, `proximal_mm`, `lateral_mm`. In arrays the column order is the same (anterior,
proximal, lateral), which is the ISB order x, y, z of a right leg.
Depths are distances along the nail path from the nail's driving end (antegrade: proximal end), + away from
it.
"""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Missing
from limbwright.finding import Finding
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Side
from limbwright.limb.view import Border
from limbwright.plan.goal import Approach, Staging
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Place(Value):
    """A point of the leg as it stands."""

    anterior_mm: float
    """Anterior + [mm]."""
    proximal_mm: float
    """Toward the head + [mm]."""
    lateral_mm: float
    """Away from the midline + [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FragmentPath(Value):
    """The straight line the nail will take in one fragment, given by two points in the leg as it stands."""

    fragment: Fragment
    """Proximal or distal fragment; the middle one between two osteotomies."""
    upper: Place
    """Proximal end of the line."""
    lower: Place
    """Distal end of the line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NailPath(Value):
    """The nail's line in every fragment; bringing the lines together is the reduction."""

    entry: Place
    """Where the nail enters the bone."""
    proximal: FragmentPath
    """Line in the proximal fragment."""
    distal: FragmentPath
    """Line in the distal fragment."""
    middle: FragmentPath | None = None
    """Line in the fragment between two osteotomies; None with one."""

    def of(self, fragment: Fragment) -> FragmentPath:
        """The line in one fragment.

        Raises
        ------
        Missing
            If the bone is cut once and has no middle fragment.
        """
        line = {
            Fragment.PROXIMAL: self.proximal,
            Fragment.MIDDLE: self.middle,
            Fragment.DISTAL: self.distal,
        }[fragment]
        if line is None:
            raise Missing(
                "the bone has no middle fragment.",
                where="nail path",
                next_step="Ask for the proximal or the distal fragment, or plan two osteotomies.",
            )
        return line


@dataclass(frozen=True, slots=True, kw_only=True)
class Osteotomy(Value):
    """Where one bone is cut."""

    bone: Bone
    """Bone that is cut."""
    depth_mm: float
    """Along the nail path from the nail's driving end [mm]."""
    below_joint_mm: float
    """Below the bone's proximal joint line (femur: head centre) along the bone as it stands [mm]."""
    above_distal_joint_mm: float
    """Above the bone's distal joint line along the bone as it stands [mm]."""
    off_apex_mm: float | None
    """Distance from the apex along the bone, distal +; None when there is none to correct [mm]."""


class MiddleHold(StrEnum):
    """What ties the middle fragment to the fragment it stays with, beside the nail's passage."""

    LOCKED = "locking screw of the nail"
    PLATE = "plate beside the nail"


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondOsteotomy(Value):
    """A second cut of the same bone: corrected and fixed at the operation, never lengthened."""

    osteotomy: Osteotomy
    """Where the bone is cut."""
    rotation_correction_deg: float
    """Rotation given to the part below it about the nail, external + [deg]."""
    hold: MiddleHold
    """What ties the middle fragment to the fragment beyond this cut."""


class ScrewDirection(StrEnum):
    """Direction a screw is driven in."""

    ANTEROPOSTERIOR = "anteroposterior"
    MEDIOLATERAL = "mediolateral"
    OBLIQUE = "oblique"


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockingScrew(Value):
    """A screw beside the nail that takes away the gap on the concave side of the drift."""

    fragment: Fragment
    """Fragment it sits in."""
    side: Border
    """Side of the nail it sits on."""
    direction: ScrewDirection
    """Driven anteroposterior to hold the frontal plane, mediolateral to hold the sagittal plane."""
    depth_mm: float
    """Along the nail path from the nail's driving end, bones corrected and not yet lengthened [mm]."""
    from_osteotomy_mm: float
    """Distance from the osteotomy [mm]."""
    offset_mm: float
    """Screw axis from the nail's centre line [mm]."""
    diameter_mm: float
    """Screw diameter [mm]."""
    drill_mm: float
    """Drill bit [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FibularFixation(Value):
    """Fibular osteotomy and the screws that tie the fibula to the tibia at both ends."""

    osteotomy_above_ankle_mm: float
    """Fibular osteotomy above the tip of the lateral malleolus along the fibula [mm]."""
    proximal_screw_below_plateau_mm: float
    """Proximal tibiofibular screw below the plateau line [mm]."""
    distal_screw_above_plafond_mm: float
    """Distal tibiofibular screw above the plafond line [mm]."""
    screw_diameter_mm: float
    """Solid screw diameter [mm]."""
    cortices: int
    """Cortices each screw should hold."""


class PinRole(StrEnum):
    """What a pin or wire of the temporary fixator does."""

    HOLD_PROXIMAL = "holds the proximal fragment"
    HOLD_DISTAL = "holds the distal fragment"
    ROTATION_MARKER_PROXIMAL = "proximal rotation marker"
    ROTATION_MARKER_DISTAL = "distal rotation marker"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin(Value):
    """A fixator pin or rotation marker kept out of the nail's path."""

    role: PinRole
    """What it does."""
    bone: Bone
    """Bone it is in."""
    fragment: Fragment
    """Fragment it is in."""
    below_joint_mm: float
    """Below the bone's proximal joint line (femur: head centre) along the bone as it stands [mm]."""
    nail_side: str
    """Where it passes, in words: 'posterior to the nail', 'beyond the nail tip'."""
    clearance_mm: float
    """Free distance between the pin's surface and the reamed path [mm]."""
    diameter_mm: float
    """Pin diameter [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BonePlan(Value):
    """All decisions about one bone that is cut and lengthened."""

    bone: Bone
    """Femur or tibia."""
    direction: Direction
    """Antegrade or retrograde."""
    approach: Approach
    """Way to the entry point."""
    lengthening_mm: float
    """Length to gain [mm]."""
    osteotomy: Osteotomy
    """Where the bone is cut, and lengthened."""
    path: NailPath
    """The nail's line in every fragment."""
    rotation_correction_deg: float
    """Rotation given to the part below the osteotomy at the reduction, external + [deg]."""
    nail: Nail
    """Chosen nail."""
    reamer_mm: float
    """Largest reamer [mm]."""
    blocking_screws: tuple[BlockingScrew, ...]
    """Blocking screws; may be none."""
    fibula: FibularFixation | None
    """Fibular osteotomy and screws; tibia only."""
    pins: tuple[Pin, ...]
    """Temporary fixator pins and rotation markers."""
    calf_release: bool | None
    """Calf release at the operation; None = decided later."""
    second: SecondOsteotomy | None = None
    """A second osteotomy of this bone, only corrected; None with one."""

    def osteotomies(self) -> tuple[Osteotomy, ...]:
        """The lengthened osteotomy, and the second one where there is one."""
        return (self.osteotomy,) if self.second is None else (self.osteotomy, self.second.osteotomy)

    @property
    def middle_side(self) -> Fragment | None:
        """The side of the lengthened osteotomy that is cut again; None with one osteotomy.

        Hardware and canals name a fragment by its side of the lengthened osteotomy: once corrected and
        fixed, the middle fragment and the one it is tied to move as one.
        """
        if self.second is None:
            return None
        deeper = self.second.osteotomy.depth_mm > self.osteotomy.depth_mm
        return Fragment.DISTAL if deeper is (self.direction is Direction.ANTEGRADE) else Fragment.PROXIMAL

    @property
    def middle_length_mm(self) -> float:
        """Length of the middle fragment along the nail; 0 with one osteotomy. [mm]"""
        return 0.0 if self.second is None else abs(self.second.osteotomy.depth_mm - self.osteotomy.depth_mm)

    def fragment_beside(self, side: Fragment, from_osteotomy_mm: float) -> Fragment:
        """The fragment at a distance from the lengthened osteotomy, on one side of it."""
        inner = side is self.middle_side and from_osteotomy_mm < self.middle_length_mm
        return Fragment.MIDDLE if inner else side


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Value):
    """All decisions about one leg."""

    side: Side
    """Treated leg."""
    bones: tuple[BonePlan, ...]
    """Bones in the order of treatment."""
    staging: Staging | None
    """Simultaneous or staged when there are two bones."""
    steps: tuple[str, ...]
    """Order of steps in theatre, as a checklist."""
    findings: tuple[Finding, ...]
    """Findings about the plan as a whole, worst first."""
