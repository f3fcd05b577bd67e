"""Three invented patients. Nobody here exists; every number was made up to show one kind of case each."""

from dataclasses import dataclass, replace
from datetime import date

from limbwright.case.patient import Patient
from limbwright.film.phantom import Angulation, LegShape, PatientShape
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Side
from limbwright.plan.circumstances import BoneQuality, Examination, Zone, ZoneQuality
from limbwright.plan.goal import Goal

FILMS_TAKEN_ON = date(2026, 3, 2)
OPERATION_ON = date(2026, 3, 16)
"""Invented days, so that the demo prints the same on every day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoPatient:
    """An invented patient: what the phantom needs, and what a surgeon would type."""

    id: str
    title: str
    side: Side
    diagnosis: str
    patient: Patient
    shape: PatientShape
    examination: Examination
    goal: Goal
    seed: int


_ADULT = LegShape(femur_length_mm=436.0, tibia_length_mm=362.0)

ADULT_TIBIA = DemoPatient(
    id="demo-a",
    title="Adult: valgus of the tibia with shortening",
    side=Side.LEFT,
    diagnosis="Invented: malunited fracture of the left tibia in childhood, valgus and short.",
    patient=Patient(id="INVENTED-A", sex=Sex.FEMALE, birth_date=date(1998, 9, 14)),
    shape=PatientShape(
        right=_ADULT,
        left=replace(
            _ADULT,
            tibia_length_mm=329.0,
            deformities=(Angulation(bone=Bone.TIBIA, level=0.40, varus_deg=-11.0, procurvatum_deg=4.0),),
        ),
    ),
    examination=Examination(
        knee_flexion_deg=140.0,
        knee_extension_loss_deg=0.0,
        ankle_dorsiflexion_deg=12.0,
        ankle_dorsiflexion_knee_bent_deg=20.0,
        block_test_mm=35.0,
        foot_height_difference_mm=0.0,
        bone_quality=(ZoneQuality(bone=Bone.TIBIA, zone=Zone.MIDDLE_SHAFT, quality=BoneQuality.SCLEROTIC),),
    ),
    goal=Goal(),
    seed=11,
)

ADULT_FEMUR_AND_TIBIA = DemoPatient(
    id="demo-b",
    title="Adult: femur and tibia short, valgus above the knee",
    side=Side.RIGHT,
    diagnosis="Invented: growth arrest about the right knee, femur in valgus, femur and tibia short.",
    patient=Patient(id="INVENTED-B", sex=Sex.MALE, birth_date=date(1991, 5, 3)),
    shape=PatientShape(
        right=replace(
            _ADULT,
            femur_length_mm=436.0,
            tibia_length_mm=362.0,
            deformities=(Angulation(bone=Bone.FEMUR, level=0.62, varus_deg=-8.0),),
        ),
        left=replace(_ADULT, femur_length_mm=466.0, tibia_length_mm=384.0),
    ),
    examination=Examination(
        knee_flexion_deg=125.0,
        knee_extension_loss_deg=0.0,
        ankle_dorsiflexion_deg=8.0,
        ankle_dorsiflexion_knee_bent_deg=15.0,
        block_test_mm=52.0,
        foot_height_difference_mm=0.0,
    ),
    goal=Goal(),
    seed=12,
)

ADOLESCENT_TIBIA = DemoPatient(
    id="demo-c",
    title="Adolescent near maturity: varus and procurvatum of the tibia with shortening",
    side=Side.RIGHT,
    diagnosis="Invented: right tibia bowed and short since birth; growth plates closing.",
    patient=Patient(id="INVENTED-C", sex=Sex.MALE, birth_date=date(2010, 8, 21), skeletal_age_years=16.5),
    shape=PatientShape(
        right=replace(
            _ADULT,
            femur_length_mm=424.0,
            tibia_length_mm=318.0,
            deformities=(Angulation(bone=Bone.TIBIA, level=0.45, varus_deg=9.0, procurvatum_deg=7.0),),
        ),
        left=replace(_ADULT, femur_length_mm=425.0, tibia_length_mm=352.0),
    ),
    examination=Examination(
        knee_flexion_deg=145.0,
        knee_extension_loss_deg=0.0,
        ankle_dorsiflexion_deg=5.0,
        ankle_dorsiflexion_knee_bent_deg=14.0,
        block_test_mm=36.0,
        discrepancy_kind=DiscrepancyKind.CONGENITAL,
        foot_height_difference_mm=0.0,
    ),
    goal=Goal(),
    seed=13,
)

DEMO_PATIENTS = (ADULT_TIBIA, ADULT_FEMUR_AND_TIBIA, ADOLESCENT_TIBIA)
