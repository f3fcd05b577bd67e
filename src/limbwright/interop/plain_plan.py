"""A planned case as a plain JSON object: decisions, reasons, outlook, steps, distances, findings."""

from limbwright.case.planned import PlannedCase
from limbwright.case.space import spatial_deformities
from limbwright.course.prescription import Prescription
from limbwright.course.schedule import Day
from limbwright.finding import Finding
from limbwright.interop.plain import (
    Plain,
    directed_plain,
    finding_plain,
    measured_case_plain,
    measured_plain,
    reading_plain,
)
from limbwright.interop.plain_deformity import deformities_plain, spatial_plain
from limbwright.plan.complete import CompletedBone
from limbwright.plan.decision import BlockingScrew, BonePlan, Osteotomy, Pin, Place
from limbwright.plan.nail_fit import NailVerdict
from limbwright.plan.planner import PlannedBone
from limbwright.plan.stage import CutFaces, LegStage
from limbwright.plan.strategy import Strategy
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    EXTERNAL_INTERNAL,
    LATERAL_MEDIAL,
    LONGER_SHORTER,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Sense,
    directed,
)


def planned_case_plain(planned: PlannedCase, findings: tuple[Finding, ...]) -> Plain:
    """Everything that was worked out about one leg."""
    outlook = planned.outlook
    return {
        "measured": measured_case_plain(planned.measured, planned.measured.findings),
        "deformities": deformities_plain(planned.deformities),
        "deformities_in_space": spatial_plain(spatial_deformities(planned.measured, planned.deformities)),
        "strategies": [
            _strategy(s, chosen=s == planned.choice.recommended) for s in planned.choice.strategies
        ],
        "choice": planned.choice.reason,
        "runner_up": planned.choice.runner_up_reason,
        "bones": [
            {**_decisions(done), "proposal": _proposal(proposal)}
            for done, proposal in zip(planned.completed, planned.proposals, strict=True)
        ]
        if planned.completed
        else [{"bone": p.bone.value, "proposal": _proposal(p)} for p in planned.proposals],
        "outlook": None
        if outlook is None
        else {
            "stages": [_stage(stage) for stage in outlook.stages],
            "cut_faces": [cut_faces_plain(faces) for faces in outlook.cut_faces],
        },
        "steps": list(planned.plan.steps) if planned.plan else [],
        "prescriptions": [prescription_plain(p) for p in planned.prescriptions],
        "findings": [finding_plain(f) for f in findings],
    }


def prescription_plain(prescription: Prescription) -> Plain:
    """Latency, rate and rhythm of one bone."""
    return {
        "bone": prescription.bone.value,
        "target_mm": prescription.target_mm,
        "latency_days": prescription.latency_days,
        "film_interval_days": prescription.film_interval_days,
        "phases": [
            {
                "kind": phase.kind.value,
                "days": phase.days,
                "step_mm": phase.step_mm,
                "steps_per_day": phase.steps_per_day,
            }
            for phase in prescription.phases
        ],
    }


def day_plain(day: Day) -> Plain:
    """One day of a schedule."""
    return {
        "day": day.number,
        "on": day.on.isoformat(),
        "kind": day.kind.value,
        "phase": day.phase,
        "steps": day.steps,
        "step_mm": day.step_mm,
        "gained_mm": day.gained_mm,
        "film": day.film,
    }


def _strategy(strategy: Strategy, *, chosen: bool) -> Plain:
    return {
        "name": strategy.name.value,
        "chosen": chosen,
        "operations": strategy.operations,
        "shares": [
            {
                "operation": number,
                "bone": share.bone.value,
                "direction": share.direction.value,
                "lengthening_mm": round(share.lengthening_mm, 2),
                "percent_of_bone": round(share.percent_of_bone, 2),
                "corrects": share.corrects,
            }
            for number, stage in enumerate(strategy.stages, start=1)
            for share in stage.shares
        ],
        "residual": directed_plain(strategy.residual),
        "knee_height": directed_plain(strategy.knee_height),
        "burden_index": round(strategy.burden_index, 3),
        "healed_days": {
            "low": round(strategy.healed_low_day),
            "typical": round(strategy.healed_typical_day),
            "high": round(strategy.healed_high_day),
        },
        "excluded_because": [finding_plain(f) for f in strategy.excluded],
        "findings": [finding_plain(f) for f in strategy.findings],
    }


def _proposal(proposal: PlannedBone) -> Plain:
    return {
        "reasons": list(proposal.reasons),
        "nails": [
            _verdict(v) for v in (proposal.nail, *proposal.runners_up, *proposal.rejected) if v is not None
        ],
        "off_apex": [
            {
                "off_apex": directed_plain(
                    directed(o.off_apex_mm, unit="mm", senses=(Sense.DISTAL, Sense.PROXIMAL))
                ),
                "translation_mm": round(o.translation_mm, 2),
                "axial_loss_mm": round(o.axial_loss_mm, 2),
                "contact_percent": round(o.contact_percent, 1),
            }
            for o in proposal.off_apex
        ],
    }


def _verdict(verdict: NailVerdict) -> Plain:
    return {
        "nail": verdict.nail.name,
        "fits": verdict.fits,
        "reasons": list(verdict.reasons),
        "numbers": [{"name": n.name, "value": round(n.value, 3), "unit": n.unit} for n in verdict.numbers],
    }


def _place(place: Place) -> Plain:
    return {
        "anterior_mm": round(place.anterior_mm, 2),
        "proximal_mm": round(place.proximal_mm, 2),
        "lateral_mm": round(place.lateral_mm, 2),
    }


def _decisions(done: CompletedBone) -> Plain:
    plan = done.plan
    turn = directed(plan.rotation_correction_deg, unit="deg", senses=EXTERNAL_INTERNAL)
    cut = plan.osteotomy
    return {
        "bone": plan.bone.value,
        "direction": plan.direction.value,
        "approach": plan.approach.value,
        "knee_position": done.approach.knee_position,
        "lengthening_mm": plan.lengthening_mm,
        "osteotomy": _osteotomy(cut),
        "path": {
            "entry": _place(plan.path.entry),
            "proximal": [_place(plan.path.proximal.upper), _place(plan.path.proximal.lower)],
            "distal": [_place(plan.path.distal.upper), _place(plan.path.distal.lower)],
            **(
                {}
                if plan.path.middle is None
                else {"middle": [_place(plan.path.middle.upper), _place(plan.path.middle.lower)]}
            ),
        },
        "second": second_plain(plan),
        "rotation_correction": directed_plain(turn),
        "nail": {
            "name": plan.nail.name,
            "thick_diameter_mm": plan.nail.thick_diameter_mm,
            "thin_diameter_mm": plan.nail.thin_diameter_mm,
            "length_mm": plan.nail.length_mm,
            "stroke_mm": plan.nail.stroke_mm,
        },
        "reamer_mm": plan.reamer_mm,
        "blocking_screws": [_blocking(screw) for screw in plan.blocking_screws],
        "fibula": None
        if plan.fibula is None
        else {
            "osteotomy_above_ankle_mm": round(plan.fibula.osteotomy_above_ankle_mm, 1),
            "proximal_screw_below_plateau_mm": plan.fibula.proximal_screw_below_plateau_mm,
            "distal_screw_above_plafond_mm": plan.fibula.distal_screw_above_plafond_mm,
            "screw_diameter_mm": plan.fibula.screw_diameter_mm,
            "cortices": plan.fibula.cortices,
        },
        "pins": [pin_plain(pin) for pin in plan.pins],
        "calf_release": plan.calf_release,
        "weight_limit_kg": done.weight.limit_kg,
        "weight_limit_lb": done.weight.limit_lb,
        "theatre_marks": [
            {
                "what": m.what,
                "from_proximal_mm": round(m.from_proximal_mm, 1),
                "proximal_reference": m.proximal_reference,
                "from_distal_mm": round(m.from_distal_mm, 1),
                "distal_reference": m.distal_reference,
                "offset_mm": m.offset_mm,
                "offset_side": m.offset_side,
                "size_mm": m.size_mm,
            }
            for m in done.marks
        ],
    }


def _osteotomy(cut: Osteotomy) -> Plain:
    return {
        "depth_mm": round(cut.depth_mm, 2),
        "below_joint_mm": round(cut.below_joint_mm, 2),
        "above_distal_joint_mm": round(cut.above_distal_joint_mm, 2),
        "off_apex": None
        if cut.off_apex_mm is None
        else directed_plain(directed(cut.off_apex_mm, unit="mm", senses=(Sense.DISTAL, Sense.PROXIMAL))),
    }


def second_plain(plan: BonePlan) -> Plain | None:
    """The second osteotomy of a bone, which is only corrected; None with one."""
    second = plan.second
    if second is None:
        return None
    turn = directed(second.rotation_correction_deg, unit="deg", senses=EXTERNAL_INTERNAL)
    return {
        "osteotomy": _osteotomy(second.osteotomy),
        "rotation_correction": directed_plain(turn),
        "hold": second.hold.value,
        "middle_length_mm": round(plan.middle_length_mm, 1),
    }


def _blocking(screw: BlockingScrew) -> Plain:
    return {
        "fragment": screw.fragment.value,
        "side": screw.side.value,
        "direction": screw.direction.value,
        "depth_mm": round(screw.depth_mm, 2),
        "from_osteotomy_mm": screw.from_osteotomy_mm,
        "offset_mm": screw.offset_mm,
        "diameter_mm": screw.diameter_mm,
        "drill_mm": screw.drill_mm,
    }


def pin_plain(pin: Pin) -> Plain:
    """A pin or rotation marker of the temporary fixator."""
    return {
        "role": pin.role.value,
        "fragment": pin.fragment.value,
        "below_joint_mm": round(pin.below_joint_mm, 1),
        "nail_side": pin.nail_side,
        "clearance_mm": round(pin.clearance_mm, 1),
        "diameter_mm": pin.diameter_mm,
    }


def _stage(stage: LegStage) -> Plain:
    total = stage.discrepancy.total if stage.discrepancy else None
    return {
        "name": stage.name.value,
        "readings": [
            reading_plain(r)
            for r in (
                *stage.frontal_readings.values,
                *(stage.sagittal_readings.values if stage.sagittal_readings else ()),
            )
        ],
        "length_against_other_leg": measured_plain(total, LONGER_SHORTER),
    }


def cut_faces_plain(faces: CutFaces) -> Plain:
    """How the bone ends of one cut stand once corrected."""
    return {
        "bone": faces.bone.value,
        "lengthens": faces.lengthens,
        "frontal_turn": directed_plain(directed(faces.varus_deg, unit="deg", senses=VARUS_VALGUS)),
        "sagittal_turn": directed_plain(
            directed(faces.procurvatum_deg, unit="deg", senses=PROCURVATUM_RECURVATUM)
        ),
        "rotation": directed_plain(directed(faces.external_deg, unit="deg", senses=EXTERNAL_INTERNAL)),
        "shift_frontal": directed_plain(directed(faces.shift_lateral_mm, unit="mm", senses=LATERAL_MEDIAL)),
        "shift_sagittal": directed_plain(
            directed(faces.shift_anterior_mm, unit="mm", senses=ANTERIOR_POSTERIOR)
        ),
        "width_in_contact_percent": faces.width_in_contact_percent,
    }
