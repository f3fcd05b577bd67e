"""A forecast as a plain JSON object: drift by day, bands, contacts, layouts of screws, findings."""

from limbwright.case.forecast import BoneAhead, CaseAhead
from limbwright.finding import Finding
from limbwright.interop.plain import Plain, directed_plain, finding_plain, reading_plain
from limbwright.mechanics import Plane
from limbwright.plan.decision import BlockingScrew
from limbwright.plan.forecast.drift_course import Band, CourseOfDrift, MomentOfCourse, PlaneForecast
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED, SENSES
from limbwright.plan.forecast.screw_values import LayoutOffered
from limbwright.plan.stage import StageName
from limbwright.quantity import ANTERIOR_POSTERIOR, LATERAL_MEDIAL, directed

_SHIFTS = {Plane.FRONTAL: LATERAL_MEDIAL, Plane.SAGITTAL: ANTERIOR_POSTERIOR}


def case_ahead_plain(ahead: CaseAhead, findings: tuple[Finding, ...]) -> Plain:
    """Everything that was foretold for one leg, the lack of clinical validation first."""
    return {
        "validation": NOT_VALIDATED,
        "bones": [_bone(bone) for bone in ahead.bones],
        "full_length_with_drift": None
        if ahead.outlook is None
        else [
            reading_plain(r)
            for stage in (ahead.outlook.stage(StageName.FULL_LENGTH),)
            for r in (
                *stage.frontal_readings.values,
                *(stage.sagittal_readings.values if stage.sagittal_readings else ()),
            )
        ],
        "findings": [finding_plain(f) for f in findings],
    }


def _bone(bone: BoneAhead) -> Plain:
    made, advice = bone.forecast, bone.screws
    return {
        "bone": bone.bone.value,
        "region": made.region.value,
        "walls_idealised": [f"{f} fragment, {p} film" for f, p in made.modelled.untraced],
        "with_planned_screws": _course(made.planned),
        "without_screws": _course(made.without_screws),
        "scenarios": list(advice.scenarios),
        "scenarios_agree": advice.scenarios_agree,
        "layouts": {
            "none": _layout(advice.none),
            "best": [_layout(x) for x in advice.best],
            "smallest_within_limit": None
            if advice.smallest_within is None
            else _layout(advice.smallest_within),
            "runners_up": [_layout(x) for x in advice.runners_up],
            "worst": _layout(advice.worst),
            "making_worse": [_layout(x) for x in advice.making_worse],
            "best_by_scenario": [_layout(x) for x in advice.best_by_scenario],
            "no_room": [
                {"because": why, "screw": screw_plain(s), "would_save_deg": round(gain, 3)}
                for why, s, gain in advice.too_tight
            ],
            "screened": advice.layouts_solved,
            "solved_together": advice.layouts_together,
            "exhaustive": advice.exhaustive,
        },
        "recipes": [r.words for r in bone.recipes],
        "steering": [
            {
                "plane": s.plane.value,
                "correction": _angle(s.correction_deg, s.plane),
                "may_leave_without_screws": _angle(s.residual_bare_deg, s.plane),
                "may_leave_with_screws": _angle(s.residual_held_deg, s.plane),
                "end_off_line_without_screws_mm": round(s.path_off_bare_mm, 2),
                "end_off_line_with_screws_mm": round(s.path_off_held_mm, 2),
            }
            for s in bone.steering
        ],
    }


def _course(course: CourseOfDrift) -> Plain:
    return {
        "moments": [_moment(m) for m in course.moments],
        "stress_in_walking_mpa": None
        if course.walking_stress_mpa is None
        else round(course.walking_stress_mpa, 1),
    }


def _moment(moment: MomentOfCourse) -> Plain:
    return {
        "day": moment.day,
        "gained_mm": round(moment.lengthening_mm, 2),
        "frontal": _plane(moment.frontal, Plane.FRONTAL),
        "sagittal": _plane(moment.sagittal, Plane.SAGITTAL),
        "in_its_own_plane_deg": None if moment.oblique_deg is None else round(moment.oblique_deg, 3),
        "outcomes": [o.value for o in moment.outcomes],
        "overlap_mm": round(moment.overlap_mm, 2),
        "peak_stress_mpa": round(moment.peak_stress_mpa, 1),
        "slack_screws": list(moment.slack),
        "contacts": [
            {
                "what": c.support.value,
                "fragment": c.fragment.value,
                "depth_mm": round(c.depth_mm, 1),
                "frontal": directed_plain(directed(c.lateral_n, unit="N", senses=LATERAL_MEDIAL)),
                "sagittal": directed_plain(directed(c.anterior_n, unit="N", senses=ANTERIOR_POSTERIOR)),
            }
            for c in moment.contacts
        ],
    }


def _plane(found: PlaneForecast, plane: Plane) -> Plain:
    return {
        "angulation": _angle(found.angulation_deg, plane),
        "screening_alone": _angle(found.alone_deg, plane),
        "step": _shift(found.step_mm, plane),
        "shift_at_joint": _shift(found.joint_shift_mm, plane),
        "nine_in_ten": _band(found.band, plane),
        "play": _band(found.play, plane),
    }


def _shift(value: float | None, plane: Plane) -> Plain | None:
    return None if value is None else directed_plain(directed(value, unit="mm", senses=_SHIFTS[plane]))


def _angle(value: float | None, plane: Plane) -> Plain | None:
    return None if value is None else directed_plain(directed(value, unit="deg", senses=SENSES[plane]))


def _band(band: Band | None, plane: Plane) -> Plain | None:
    if band is None:
        return None
    return {
        "from": _angle(band.low, plane),
        "to": _angle(band.high, plane),
        "without_number": round(band.without_number, 4),
    }


def _layout(layout: LayoutOffered) -> Plain:
    return {
        "screws": [screw_plain(s) for s in layout.screws],
        "worst_deg": round(layout.worst_deg, 3),
        "expected_deg": round(layout.expected_deg, 3),
        "worst_by_scenario_deg": [round(x, 3) for x in layout.worst_by_scenario_deg],
        "buys_deg": round(layout.bought_deg, 3),
        "step_mm": round(layout.step_mm, 2),
        "shift_at_joint_mm": round(layout.shift_mm, 2),
        "mean_of_draws_deg": None if layout.likely_deg is None else round(layout.likely_deg, 3),
        "nineteen_in_twenty_below_deg": None
        if layout.rarely_above_deg is None
        else round(layout.rarely_above_deg, 3),
        "one_mm_off_adds_deg": None if layout.misplaced_deg is None else round(layout.misplaced_deg, 3),
        "ends_slack": layout.ends_slack,
        "near": list(layout.near),
        "both_planes_together": None
        if layout.together is None
        else {
            "frontal": _angle(layout.together.varus_deg, Plane.FRONTAL),
            "sagittal": _angle(layout.together.procurvatum_deg, Plane.SAGITTAL),
            "in_its_own_plane_deg": None if layout.oblique_deg is None else round(layout.oblique_deg, 3),
        },
    }


def screw_plain(screw: BlockingScrew) -> Plain:
    """A blocking screw with its place along the nail and beside it."""
    return {
        "fragment": screw.fragment.value,
        "side": screw.side.value,
        "driven": screw.direction.value,
        "depth_mm": round(screw.depth_mm, 1),
        "from_osteotomy_mm": round(screw.from_osteotomy_mm, 1),
        "offset_mm": round(screw.offset_mm, 2),
        "diameter_mm": screw.diameter_mm,
        "drill_mm": screw.drill_mm,
    }
