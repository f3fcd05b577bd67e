"""The cards of big numbers on the page for the theatre wall."""

from limbwright.case.planned import PlannedCase
from limbwright.course.schedule import Day, last_distraction_day
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.complete import CompletedBone
from limbwright.plan.decision import BlockingScrew, BonePlan, Osteotomy
from limbwright.plan.stage import StageName
from limbwright.plan.theatre import REFERENCES
from limbwright.quantity import LONGER_SHORTER, directed, lb_from_kg
from limbwright.report import words
from limbwright.report.context import BigGroup, BigItem


def bone_cards(planned: PlannedCase) -> tuple[BigGroup, ...]:
    """Osteotomy, nail and screws of each bone."""
    several = len(planned.completed) > 1
    return tuple(group for bone in planned.completed for group in _cards(bone, named=several))


def _cards(bone: CompletedBone, *, named: bool) -> tuple[BigGroup, ...]:
    plan = bone.plan
    prefix = f"{plan.bone}: " if named else ""
    way = (
        f"{plan.direction}, {plan.approach}" if plan.direction is Direction.ANTEGRADE else str(plan.approach)
    )
    nail = BigGroup(
        title=f"{prefix}nail {plan.nail.name}",
        items=(
            BigItem(
                label="Diameter × length",
                value=f"{plan.nail.thick_diameter_mm:g} × {plan.nail.length_mm:.0f} mm",
                note=f"{way}; stroke {plan.nail.stroke_mm:.0f} mm",
                large=True,
            ),
            BigItem(label="Largest reamer", value=f"{plan.reamer_mm:g} mm"),
        ),
    )
    trochanter_mm = bone.trochanter_below_head_mm or 0.0
    title = f"{prefix}osteotomy" if plan.second is None else f"{prefix}osteotomy that is lengthened"
    cuts = [BigGroup(title=title, items=_levels(plan.osteotomy, trochanter_mm))]
    if plan.second is not None:
        hold = BigItem(
            label="middle fragment", value=f"{plan.middle_length_mm:.0f} mm", note=plan.second.hold
        )
        items = (*_levels(plan.second.osteotomy, trochanter_mm), hold)
        cuts.append(BigGroup(title=f"{prefix}second osteotomy, corrected only", items=items))
    return (nail, *cuts, BigGroup(title=f"{prefix}screws beside the nail", items=_screws(bone)))


def _levels(cut: Osteotomy, trochanter_below_head_mm: float) -> tuple[BigItem, ...]:
    """Where a bone is cut, from both its ends."""
    proximal, distal = REFERENCES[cut.bone]
    below = cut.below_joint_mm - trochanter_below_head_mm
    return (
        BigItem(label=f"below the {proximal}", value=f"{below:.0f} mm", large=True),
        BigItem(
            label=f"above the {distal}",
            value=f"{cut.above_distal_joint_mm:.0f} mm",
            note="along the bone as it stands",
        ),
    )


def _screws(bone: CompletedBone) -> tuple[BigItem, ...]:
    plan = bone.plan
    items = [_blocking(plan, screw) for screw in plan.blocking_screws]
    if not items:
        items.append(BigItem(label="Blocking screws", value="none"))
    if plan.fibula is not None:
        fixed = plan.fibula
        items += [
            BigItem(
                label="Fibular cut above malleolus tip", value=f"{fixed.osteotomy_above_ankle_mm:.0f} mm"
            ),
            BigItem(
                label="Tibiofibular screws",
                value=f"{fixed.proximal_screw_below_plateau_mm:.0f} / "
                f"{fixed.distal_screw_above_plafond_mm:.0f} mm",
                note=f"below plateau / above plafond; solid {fixed.screw_diameter_mm:g} mm, oblique",
            ),
        ]
    return tuple(items)


def _blocking(plan: BonePlan, screw: BlockingScrew) -> BigItem:
    fragment = plan.fragment_beside(screw.fragment, screw.from_osteotomy_mm)
    return BigItem(
        label=f"Blocking, {fragment}, {screw.side} of nail",
        value=f"{screw.from_osteotomy_mm:.0f} mm from cut",
        note=f"{screw.diameter_mm:g} mm {screw.direction}, drill {screw.drill_mm:g}, axis "
        f"{screw.offset_mm:.1f} mm from the nail's centre line",
    )


def result_card(planned: PlannedCase) -> BigGroup:
    """What the leg should measure at the end."""
    items = []
    if planned.outlook is not None:
        end = planned.outlook.stage(StageName.FULL_LENGTH)
        angles = (Measure.MPTA, Measure.LDTA) if _has(planned, Bone.TIBIA) else (Measure.MLDFA,)
        for measure in (Measure.MAD, *angles):
            reading = end.frontal_readings.get(measure)
            if reading is not None:
                items.append(BigItem(label=measure.value, value=words.said(reading.shown())))
        if end.discrepancy is not None and end.discrepancy.total is not None:
            left = directed(end.discrepancy.total.value, unit="mm", senses=LONGER_SHORTER, zero_below=0.5)
            items.append(BigItem(label="Length difference left", value=words.said(left)))
    return BigGroup(title="Planned at full length", items=tuple(items))


def course_card(planned: PlannedCase, schedules: tuple[tuple[Day, ...], ...]) -> BigGroup:
    """Prescription in short, and weight."""
    items = []
    for prescription, days in zip(planned.prescriptions, schedules, strict=True):
        rhythm = ", then ".join(
            f"{p.step_mm:g} mm × {p.steps_per_day} a day" + (f" for {p.days} days" if p.days else "")
            for p in prescription.phases
        )
        items.append(
            BigItem(
                label=f"{prescription.bone}: {prescription.target_mm:.0f} mm",
                value=f"done day {last_distraction_day(days).number}",
                note=f"wait {prescription.latency_days} days; {rhythm}; films every "
                f"{prescription.film_interval_days} days",
            )
        )
    limits = [bone.weight.limit_kg for bone in planned.completed if bone.weight.limit_kg is not None]
    if limits:
        most = min(limits)
        items.append(
            BigItem(label="Weight on the leg, at most", value=f"{most:.0f} kg ({lb_from_kg(most):.0f} lb)")
        )
    return BigGroup(title="After the operation", items=tuple(items))


def _has(planned: PlannedCase, bone: Bone) -> bool:
    return any(done.plan.bone is bone for done in planned.completed)
