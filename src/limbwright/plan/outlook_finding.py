"""Findings about what a plan leads to."""

from collections.abc import Mapping
from typing import Protocol

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Bone
from limbwright.limb.joint_angle import adta_deg, ppta_deg
from limbwright.limb.landmark import Landmark
from limbwright.limb.lines import point_of
from limbwright.limb.reading import Measure
from limbwright.limb.view import View
from limbwright.plan.decision import Plan
from limbwright.plan.end_alignment import FemoralAxisShift
from limbwright.plan.leg import LegModel
from limbwright.plan.rule import rule_source
from limbwright.plan.stage import CutFaces, LegStage
from limbwright.practice.profile import Profile
from limbwright.published import Source, Status, table
from limbwright.quantity import ANTERIOR_POSTERIOR, LATERAL_MEDIAL, Sense, directed

RIGID_FRAGMENTS = Source(text="rigid fragments moved along the nail", status=Status.DERIVED)
_FAR_SHAFT = {
    Measure.PPTA: (
        Landmark.TIBIA_DISTAL_SHAFT_UPPER,
        Landmark.TIBIA_DISTAL_SHAFT_LOWER,
        Landmark.PLATEAU_ANTERIOR,
        Landmark.PLATEAU_POSTERIOR,
    ),
    Measure.ADTA: (
        Landmark.TIBIA_PROXIMAL_SHAFT_UPPER,
        Landmark.TIBIA_PROXIMAL_SHAFT_LOWER,
        Landmark.PLAFOND_ANTERIOR,
        Landmark.PLAFOND_POSTERIOR,
    ),
}
SAGITTAL_ANGLES = frozenset({Measure.PDFA, Measure.PPTA, Measure.ADTA})
GEOMETRY_IDS = frozenset(
    {
        "acute-correction-large",
        "translation-at-osteotomy",
        "bone-contact-unknown",
        "bone-contact-small",
        "wedge-at-osteotomy",
        "end-off-target",
        "sagittal-angle-by-far-shaft",
    }
)
"""What `face_findings` and `target_findings` can say: quick enough to be told anew under the hand."""


class ReadLeg(Protocol):
    """A leg whose measurements can be asked for one by one."""

    @property
    def sagittal(self) -> View | None:
        """Its sagittal view; None without one."""

    def value(self, measure: Measure) -> float | None:
        """One measured value, signed as inside the package; None when it was not measured."""


def face_findings(face: CutFaces, profile: Profile) -> list[Finding]:
    """What to weigh about the bone ends of one osteotomy."""
    found = []
    shift = Number(name="shift at the osteotomy", value=face.shift_mm, unit="mm")
    angle = Number(name="correction at once", value=face.angulation_deg, unit="deg")
    if face.angulation_deg > profile.max_acute_correction_deg:
        found.append(
            Finding(
                id="acute-correction-large",
                severity=Severity.STOP,
                words=f"The {face.bone} would be corrected by {face.angulation_deg:.1f} deg at once at the "
                f"{face.where}; the practice limit is {profile.max_acute_correction_deg:g} deg.",
                next_step="Correct in two levels or gradually, or accept a smaller correction.",
                numbers=(angle,),
                rule="An acute correction over a nail stays within the practice limit.",
                source=rule_source(profile, "max_acute_correction_deg"),
            )
        )
    if face.shift_mm > profile.max_translation_at_osteotomy_mm:
        ways = [
            directed(face.shift_lateral_mm, unit="mm", senses=LATERAL_MEDIAL),
            directed(face.shift_anterior_mm, unit="mm", senses=ANTERIOR_POSTERIOR),
        ]
        way = ", ".join(f"{w.magnitude:.1f} mm {w.direction}" for w in ways if w.direction is not Sense.NONE)
        found.append(
            Finding(
                id="translation-at-osteotomy",
                severity=Severity.CAUTION,
                words=f"The distal end of the {face.bone} stands {face.shift_mm:.1f} mm off the proximal one "
                f"at the {face.where} ({way}); {profile.max_translation_at_osteotomy_mm:g} mm are accepted.",
                next_step="Cut nearer the apex, or move the nail's line in one fragment.",
                numbers=(shift,),
                rule="Cutting off the apex shifts the bone ends by the distance times the sine of the angle.",
                source=rule_source(profile, "max_translation_at_osteotomy_mm"),
            )
        )
    contact = face.width_in_contact_percent
    if contact is None:
        found.append(
            Finding(
                id="bone-contact-unknown",
                severity=Severity.NOTE,
                words=f"The outer edges of the {face.bone} are not traced at the {face.where}, so bone "
                "contact after the correction is not computed.",
                next_step=f"Trace both outer cortical edges of the {face.bone} around the {face.where}.",
                numbers=(shift,),
                rule="Nothing is said of a width that was not traced.",
                source=RIGID_FRAGMENTS,
            )
        )
    elif contact < profile.min_bone_contact_percent:
        found.append(
            Finding(
                id="bone-contact-small",
                severity=Severity.CAUTION,
                words=f"Only {contact:.0f} % of the width of the {face.bone} stays in contact at the "
                f"{face.where}; {profile.min_bone_contact_percent:g} % are wanted.",
                next_step="Cut nearer the apex, or accept a slower start of healing.",
                numbers=(Number(name="width in contact", value=contact, unit="%"), shift),
                rule="Bone ends keep contact after the correction.",
                source=rule_source(profile, "min_bone_contact_percent"),
            )
        )
    if face.concave_opening_mm is not None and face.concave_opening_mm >= 1.0:
        found.append(
            Finding(
                id="wedge-at-osteotomy",
                severity=Severity.NOTE,
                words=f"With the ends of the {face.bone} meeting on the nail's line at the {face.where}, the "
                f"concave side opens by {face.concave_opening_mm:.1f} mm and the convex side has "
                f"{face.concave_opening_mm:.1f} mm of bone too much.",
                next_step="Let the convex side interlock, take that bone away, or leave the ends that far "
                "apart and count it as length gained."
                if face.lengthens
                else "Let the convex side interlock, or take that bone away: these ends heal in contact.",
                numbers=(Number(name="opening", value=face.concave_opening_mm, unit="mm"), angle),
                rule="A wedge of bone width w and angle a opens 2·w·sin(a/2), here half on each side.",
                source=RIGID_FRAGMENTS,
            )
        )
    return found


def axis_findings(shift: FemoralAxisShift | None, plan: Plan, stages: tuple[LegStage, ...]) -> list[Finding]:
    """What to weigh about lengthening a femur along its shaft."""
    if shift is None:
        return []
    length = next(b.lengthening_mm for b in plan.bones if b.bone is Bone.FEMUR)
    row = table("plan", "axis_shift")[0]
    seen = row.number("value") * length / 10
    mad = [stages[i].value(Measure.MAD) for i in (1, 2)]
    planned = (
        f" With this plan MAD goes from {_mad_words(mad[0])} to {_mad_words(mad[1])}."
        if mad[0] is not None and mad[1] is not None
        else ""
    )
    return [
        Finding(
            id="femoral-axis-shift",
            severity=Severity.CAUTION,
            words=f"Lengthening the femur by {length:.0f} mm along its shaft moves the mechanical axis "
            f"{shift.mad_lateral_mm:.1f} mm laterally and lowers mLDFA by {shift.mldfa_fall_deg:.1f} deg by "
            f"geometry alone; in patients {seen:.1f} mm were seen on average "
            f"({row.number('low'):g} to {row.number('high'):g} mm per 10 mm).{planned}",
            next_step="Plan a little varus at the osteotomy, bias the entry or blocking screws, or accept it "
            "when the axis starts medial.",
            numbers=(
                Number(name="lateral shift by geometry", value=shift.mad_lateral_mm, unit="mm"),
                Number(name="mean lateral shift seen", value=seen, unit="mm"),
                Number(name="fall of mLDFA", value=shift.mldfa_fall_deg, unit="deg"),
                Number(name="knee centre off the old axis", value=shift.knee_medial_mm, unit="mm"),
            ),
            rule="The femur lengthens along its shaft, not along its mechanical axis; the mean seen in "
            "patients "
            "includes play and drift and is not the expected value of the geometry.",
            source=row.source,
        )
    ]


def _mad_words(mad_mm: float) -> str:
    shown = directed(mad_mm, unit="mm", senses=(Sense.MEDIAL, Sense.LATERAL))
    return "0 mm" if shown.direction is Sense.NONE else f"{shown.magnitude:.1f} mm {shown.direction}"


def tolerance_of(measure: Measure, profile: Profile) -> tuple[float, str]:
    """How far a measurement may lie from its target, and the setting that says so [unit of the measure]."""
    if measure is Measure.MAD:
        return profile.mad_tolerance_mm, "mad_tolerance_mm"
    if measure in SAGITTAL_ANGLES:
        return profile.sagittal_tolerance_deg, "sagittal_tolerance_deg"
    return profile.angle_tolerance_deg, "angle_tolerance_deg"


def target_findings(end: ReadLeg, targets: Mapping[Measure, float], profile: Profile) -> list[Finding]:
    """End values that lie farther from their target than the practice accepts."""
    found = []
    for measure, wanted in targets.items():
        got = end.value(measure)
        if got is None:
            continue
        allowed, setting = tolerance_of(measure, profile)
        unit = "mm" if measure is Measure.MAD else "deg"
        if abs(got - wanted) <= allowed:
            continue
        across = _across_the_cut(end, measure)
        if across is not None and abs(across - wanted) <= allowed:
            found.append(_reached_across(measure, got, across, wanted, rule_source(profile, setting)))
            continue
        found.append(
            Finding(
                id="end-off-target",
                severity=Severity.CAUTION,
                words=f"At full length {measure} is {got:.1f} {unit}, {abs(got - wanted):.1f} {unit} from "
                "the "
                f"{wanted:.1f} {unit} wanted; {allowed:g} {unit} are accepted.",
                next_step="Change the correction, the level or the bone, or accept it and say why.",
                numbers=(
                    Number(name=f"{measure} at full length", value=got, unit=unit),
                    Number(name=f"{measure} wanted", value=wanted, unit=unit),
                ),
                rule="The end alignment lies within the practice's tolerance of its target.",
                source=rule_source(profile, setting),
            )
        )
    return found


def _across_the_cut(end: ReadLeg, measure: Measure) -> float | None:
    """A sagittal tibial angle read from the shaft at the other end of the bone. [deg]

    Joint line and near shaft line lie in one fragment, so that no osteotomy between them and the far shaft
    changes their angle; the angle to the far shaft is what an osteotomy corrects. The femur is left out: its
    bow stands between its shaft lines.
    """
    view, found = end.sagittal, _FAR_SHAFT.get(measure)
    if view is None or found is None or not view.has(*found):
        return None
    upper, lower, anterior, posterior = (point_of(view, mark) for mark in found)
    if measure is Measure.PPTA:
        return ppta_deg(
            shaft_upper=upper, shaft_lower=lower, plateau_anterior=anterior, plateau_posterior=posterior
        )
    return adta_deg(
        shaft_upper=upper, shaft_lower=lower, plafond_anterior=anterior, plafond_posterior=posterior
    )


def _reached_across(measure: Measure, got: float, across: float, wanted: float, source: Source) -> Finding:
    return Finding(
        id="sagittal-angle-by-far-shaft",
        severity=Severity.NOTE,
        words=f"At full length {measure} is {got:.1f} deg by the shaft beside its joint, which moves with "
        "the "
        f"joint; by the shaft beyond the osteotomy it is {across:.1f} deg, {wanted:.1f} deg wanted.",
        next_step="Read it from the shaft beyond the osteotomy on the films that follow.",
        numbers=(
            Number(name=f"{measure} by the shaft beyond the osteotomy", value=across, unit="deg"),
            Number(name=f"{measure} wanted", value=wanted, unit="deg"),
        ),
        rule="An osteotomy changes the angle between the joint and the shaft beyond it.",
        source=source,
    )


def knee_findings(end: LegStage, profile: Profile) -> list[Finding]:
    """Knees that stand at different heights at full length, feet level."""
    height = end.discrepancy.knee_height if end.discrepancy is not None else None
    if height is None or abs(height.value) <= profile.knee_height_tolerance_mm:
        return []
    word = "higher" if height.value > 0 else "lower"
    return [
        Finding(
            id="knee-heights-at-end",
            severity=Severity.CAUTION,
            words=f"At full length the treated knee stands {abs(height.value):.0f} mm {word} than the other; "
            f"{profile.knee_height_tolerance_mm:g} mm are left alone.",
            next_step="Put more of the length into the other bone, or accept it.",
            numbers=(Number(name="difference of knee height", value=abs(height.value), unit="mm"),),
            rule="Heights are measured on the leg as planned, stood up on its foot.",
            source=rule_source(profile, "knee_height_tolerance_mm"),
        )
    ]


def no_sagittal_film(leg: LegModel) -> Finding:
    """The finding for a leg without a sagittal film."""
    return Finding(
        id="no-sagittal-film",
        severity=Severity.CAUTION,
        words=f"There is no sagittal film of the {leg.side} leg: procurvatum, slope, and the nail's fit in "
        "the "
        "sagittal plane are not planned.",
        next_step="Add a calibrated sagittal film with its landmarks before operating.",
        rule="Nothing is said of a plane that no film shows.",
        source=RIGID_FRAGMENTS,
    )
