"""Three invented courses after the operation, visit by visit. Nobody here exists; every number was made up.

One goes smoothly; one drifts into valgus without a blocking screw; one has slow new bone and a tight ankle.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.course.alignment import Alignment
from limbwright.course.clinical import Clinical, Wound
from limbwright.course.course import Course, Treatment
from limbwright.course.diary import DiaryEntry
from limbwright.course.fibula_migration import FibulaMigration
from limbwright.course.new_bone import CortexReading, NewBone, NewBoneTexture
from limbwright.course.prescription import default_prescription
from limbwright.course.visit import GainedLength, Visit
from limbwright.film.new_bone import NewBoneShape
from limbwright.growth.growth import Sex
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone, Side
from limbwright.limb.view import Border
from limbwright.practice.profile import Profile
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, directed

OPERATED_ON = date(2026, 3, 16)
"""Invented day of all three operations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCourse:
    """An invented course of one tibia."""

    id: str
    """Id of its case."""
    title: str
    """What it shows."""
    target_mm: float
    """Length prescribed [mm]."""
    age_years: float
    """Age at the operation [years]."""
    visits: tuple["DemoVisit", ...]
    """What is found, visit by visit."""
    missed_days: tuple[int, ...] = ()
    """Days after the operation without a dose."""

    def case(self, profile: Profile, nail: Nail) -> Case:
        """A case file of the course, marked as invented; without films."""
        return Case(
            id=self.id,
            invented=True,
            side=Side.LEFT,
            diagnosis=f"Invented. {self.title}.",
            patient=Patient(id=f"INVENTED-{self.id[-1].upper()}", sex=Sex.FEMALE, age_years=self.age_years),
            course=self.course(profile, nail),
        )

    def course(self, profile: Profile, nail: Nail | None = None) -> Course:
        """The course as a case holds it, prescribed by a practice profile."""
        treatment = Treatment(
            operated_on=OPERATED_ON,
            prescription=default_prescription(
                profile, bone=Bone.TIBIA, age_years=self.age_years, target_mm=self.target_mm
            ),
            nail=nail,
            diary=tuple(
                DiaryEntry(on=OPERATED_ON + timedelta(days=day), steps=0, note="not made")
                for day in self.missed_days
            ),
        )
        return Course(treatments=(treatment,), visits=tuple(v.visit() for v in self.visits))


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoVisit:
    """What is found at one visit; angles varus + and procurvatum +."""

    day: int
    gained_mm: float
    varus_deg: float
    procurvatum_deg: float
    ratios: tuple[float, float, float, float]
    dorsiflexion_deg: float
    bent_deg: float
    bridged: int = 0
    extension_loss_deg: float = 0.0
    pain: float = 2.0
    head_mm: float = 1.0
    width_ratio: float = 1.0
    shape: NewBoneShape = NewBoneShape.CYLINDRICAL
    texture: NewBoneTexture = NewBoneTexture.HOMOGENEOUS

    def visit(self) -> Visit:
        """The visit as a case holds it."""
        return Visit(
            seen_on=OPERATED_ON + timedelta(days=self.day),
            gained=(GainedLength(bone=Bone.TIBIA, measured_mm=self.gained_mm),),
            alignment=(
                Alignment(
                    bone=Bone.TIBIA,
                    frontal=directed(self.varus_deg, unit="deg", senses=VARUS_VALGUS),
                    sagittal=directed(self.procurvatum_deg, unit="deg", senses=PROCURVATUM_RECURVATUM),
                ),
            ),
            new_bone=(
                NewBone(
                    bone=Bone.TIBIA,
                    cortices=tuple(
                        CortexReading(cortex=border, pixel_value_ratio=ratio, bridged=index < self.bridged)
                        for index, (border, ratio) in enumerate(zip(Border, self.ratios, strict=True))
                    ),
                    width_ratio=self.width_ratio,
                    shape=self.shape,
                    texture=self.texture,
                ),
            ),
            fibula=FibulaMigration(head_distal_mm=self.head_mm, malleolus_proximal_mm=0.5),
            hardware_read=True,
            clinical=Clinical(
                knee_flexion_deg=130.0,
                knee_extension_loss_deg=self.extension_loss_deg,
                ankle_dorsiflexion_deg=self.dorsiflexion_deg,
                ankle_dorsiflexion_knee_bent_deg=self.bent_deg,
                nerves_examined=True,
                pain_0_to_10=self.pain,
                weight_borne_kg=20.0,
                wound=Wound.DRY,
                therapy_done_percent=90.0,
            ),
        )


def _seen(  # one line of a course; the names stand in DemoVisit
    day: int,
    gained_mm: float,
    angles_deg: tuple[float, float],
    ratios: tuple[float, float, float, float],
    ankle_deg: tuple[float, float],
    **more: float,
) -> DemoVisit:
    return DemoVisit(
        day=day,
        gained_mm=gained_mm,
        varus_deg=angles_deg[0],
        procurvatum_deg=angles_deg[1],
        ratios=ratios,
        dorsiflexion_deg=ankle_deg[0],
        bent_deg=ankle_deg[1],
        bridged=int(more.get("bridged", 0)),
        pain=more.get("pain", 2.0),
        extension_loss_deg=more.get("extension_loss_deg", 0.0),
    )


SMOOTH = DemoCourse(
    id="course-a",
    title="Smooth: 35 mm of tibia between blocking screws",
    target_mm=35.0,
    age_years=27.5,
    missed_days=(23,),
    visits=(
        _seen(14, 6.0, (-0.3, 0.2), (0.74, 0.75, 0.73, 0.74), (11, 18)),
        _seen(28, 16.9, (-0.6, 0.5), (0.77, 0.78, 0.76, 0.75), (8, 16)),
        _seen(42, 26.8, (-0.4, 0.9), (0.79, 0.80, 0.78, 0.77), (5, 14)),
        _seen(56, 34.7, (-0.8, 0.7), (0.82, 0.82, 0.80, 0.79), (4, 13)),
        _seen(84, 34.8, (-0.7, 1.0), (0.86, 0.87, 0.85, 0.82), (8, 16), bridged=1),
        _seen(112, 35.1, (-0.5, 0.8), (0.90, 0.91, 0.88, 0.86), (10, 18), bridged=2),
        _seen(140, 34.9, (-0.6, 0.9), (0.94, 0.95, 0.92, 0.88), (11, 19), bridged=3),
    ),
)

VALGUS = DemoCourse(
    id="course-b",
    title="Drift into valgus: 40 mm of tibia without a blocking screw",
    target_mm=40.0,
    age_years=34.0,
    visits=(
        _seen(14, 6.4, (-1.1, 0.4), (0.74, 0.75, 0.73, 0.74), (10, 17)),
        _seen(28, 16.5, (-2.4, 0.8), (0.77, 0.77, 0.75, 0.75), (7, 15)),
        _seen(42, 27.3, (-4.9, 0.8), (0.79, 0.80, 0.77, 0.77), (5, 13)),
        _seen(56, 37.6, (-6.8, 0.6), (0.81, 0.82, 0.79, 0.78), (4, 12)),
        _seen(70, 40.1, (-7.2, 0.7), (0.83, 0.84, 0.82, 0.80), (5, 13)),
    ),
)

TIGHT = DemoCourse(
    id="course-c",
    title="Slow new bone and a tight ankle: 50 mm of tibia",
    target_mm=50.0,
    age_years=41.0,
    visits=(
        _seen(14, 6.1, (-0.2, 0.1), (0.72, 0.73, 0.72, 0.70), (9, 16)),
        _seen(28, 16.4, (-0.5, 0.6), (0.71, 0.73, 0.71, 0.69), (4, 12)),
        _seen(42, 27.6, (-0.7, 0.4), (0.70, 0.72, 0.70, 0.68), (-3, 9), pain=4.0),
        _seen(56, 37.2, (-0.4, 0.9), (0.69, 0.71, 0.69, 0.66), (-6, 5), pain=5.0),
        _seen(70, 47.5, (-0.8, 1.0), (0.68, 0.70, 0.67, 0.65), (-13, -4), pain=6.0),
    ),
)

DEMO_COURSES = (SMOOTH, VALGUS, TIGHT)
