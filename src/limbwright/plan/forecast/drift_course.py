"""Values of a forecast: what the model foresees at each moment of the course, with and without screws."""

from dataclasses import dataclass

from limbwright.finding import Finding
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.mechanics import Outcome, Plane, Region, Stage, StageForecast, Support
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.construct import ModelledBone
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Band(Value):
    """Where nine draws in ten lie."""

    low: float
    """5 % of the draws lie below [unit of what it is a band of]."""
    high: float
    """5 % of the draws lie above."""
    middle: float | None = None
    """Median of the draws; None for the play of a rigid nail, which was not drawn."""
    without_number: float = 0.0
    """Share of the draws for which the model has no number; they are in no band."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactOfNail(Value):
    """One place where the nail is held."""

    support: Support
    """Canal wall, locking screw, blocking screw or the nail's own joint."""
    fragment: Fragment
    """Fragment."""
    depth_mm: float
    """Depth along the nail in the fragment, as before lengthening [mm]."""
    lateral_n: float
    """Force on the nail, lateral + [N]."""
    anterior_n: float
    """Force on the nail, anterior + [N]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneForecast(Value):
    """One plane at one stage."""

    angulation_deg: float | None
    """Angulation of the distal fragment, varus + or procurvatum +; None where there is no number [deg]."""
    alone_deg: float | None
    """The same with this plane solved alone: screening only, usually too large [deg]."""
    step_mm: float | None
    """Shift of the distal fragment's axis at its own cut face, lateral + or anterior + [mm]."""
    joint_shift_mm: float | None
    """Shift of that axis at the joint at its end: knee of a femur, ankle of a tibia [mm]."""
    band: Band | None
    """Band of the angulation over uncertain loads, fit and placement [deg]."""
    play: Band | None
    """Range a rigid nail leaves open, where nothing presses it to one side [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MomentOfCourse(Value):
    """What the model foresees at one moment."""

    day: float
    """Days since the operation."""
    lengthening_mm: float
    """Length gained [mm]."""
    frontal: PlaneForecast
    """Frontal plane, varus +."""
    sagittal: PlaneForecast
    """Sagittal plane, procurvatum +."""
    oblique_deg: float | None
    """Angulation in its own plane, both planes solved together; None without a number [deg]."""
    outcomes: tuple[Outcome, ...]
    """How frontal, sagittal and coupled solve ended."""
    overlap_mm: float
    """Thick part left in the moving fragment [mm]."""
    peak_stress_mpa: float
    """Bending stress of the nail, without weight, both planes together [MPa]."""
    contacts: tuple[ContactOfNail, ...]
    """What holds the nail, from the entry on."""
    slack: tuple[int, ...]
    """Blocking screws, by their place in the plan, that stand beside the thin rod by now."""

    def in_plane(self, plane: Plane) -> PlaneForecast:
        """One plane."""
        return self.frontal if plane is Plane.FRONTAL else self.sagittal

    def drift(self) -> Drift | None:
        """Turn and shift of the distal fragment; None without a number."""
        frontal, sagittal = self.frontal, self.sagittal
        if frontal.angulation_deg is None or sagittal.angulation_deg is None:
            return None
        return Drift(
            varus_deg=frontal.angulation_deg,
            procurvatum_deg=sagittal.angulation_deg,
            lateral_mm=frontal.step_mm or 0.0,
            anterior_mm=sagittal.step_mm or 0.0,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseOfDrift(Value):
    """Drift along the course with one set of blocking screws."""

    moments: tuple[MomentOfCourse, ...]
    """In order of day; the last one is full length."""
    walking_stress_mpa: float | None
    """Peak bending stress at full length with the allowed weight in walking; None without an answer [MPa]."""

    @property
    def end(self) -> MomentOfCourse:
        """Full length."""
        return self.moments[-1]

    def largest_deg(self, plane: Plane) -> float | None:
        """Angulation of largest size along the course; None when a moment has no number. [deg]"""
        values = [m.in_plane(plane).angulation_deg for m in self.moments]
        known = [v for v in values if v is not None]
        return max(known, key=abs) if len(known) == len(values) else None

    def drift(self) -> Drift | None:
        """Drift at full length as the outlook takes it; None without a number."""
        return self.end.drift()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneForecast(Value):
    """What the model foresees for one bone plan. Not validated clinically."""

    bone: Bone
    """Bone."""
    region: Region
    """Bone and level the soft-tissue pull was taken for."""
    modelled: ModelledBone
    """The construct that was solved."""
    stages: tuple[Stage, ...]
    """Loads and new bone along the course."""
    planned: CourseOfDrift
    """With the blocking screws of the plan."""
    solved: tuple[StageForecast, ...]
    """Answers of the model behind `planned`, in the model's own frame: for pictures."""
    bare: CourseOfDrift | None
    """Without blocking screws; None when the plan has none, for then it is the same."""
    findings: tuple[Finding, ...]
    """What was assumed and what follows, worst first."""

    @property
    def without_screws(self) -> CourseOfDrift:
        """The course without blocking screws."""
        return self.planned if self.bare is None else self.bare
