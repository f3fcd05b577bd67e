"""The outcome of a course as a plain JSON object."""

from limbwright.course.complication import PaleyClass
from limbwright.course.outcome import BoneOutcome, ClassifiedEvent, Outcome
from limbwright.course.score import Score
from limbwright.interop.plain import Plain, directed_plain, finding_plain
from limbwright.interop.plain_course import number_plain
from limbwright.quantity import Directed


def outcome_plain(found: Outcome) -> Plain:
    """What came of the treatment of one leg."""
    return {
        "bones": [_bone(bone) for bone in found.bones],
        "events": [_event(event) for event in found.events],
        "counts": {paley.value: found.count(paley) for paley in PaleyClass if found.count(paley)},
        "scores": [_score(score) for score in found.scores],
    }


def _bone(found: BoneOutcome) -> Plain:
    return {
        "bone": found.bone.value,
        "planned_mm": found.planned_mm,
        "achieved": None if found.achieved is None else number_plain(found.achieved),
        "accuracy_percent": _rounded(found.accuracy_percent, 1),
        "precision_percent": _rounded(found.precision_percent, 1),
        "healing_index_days_per_cm": _rounded(found.healing_index_days_per_cm, 2),
        "distraction_index_days_per_cm": _rounded(found.distraction_index_days_per_cm, 2),
        "maturation_index_days_per_cm": _rounded(found.maturation_index_days_per_cm, 2),
        "frontal": _directed(found.frontal),
        "sagittal": _directed(found.sagittal),
        "joint_angles": [
            {
                "measure": one.measure.value,
                "first_deg": one.first_deg,
                "end_deg": round(one.end.value, 2),
                "sd_deg": round(one.end.sd, 2),
            }
            for one in found.joint_angles
        ],
        "motion": [
            {
                "name": one.name,
                "before_deg": one.before_deg,
                "end_deg": one.end_deg,
                "lost_deg": _rounded(one.lost_deg(), 1),
            }
            for one in found.motion
        ],
        "findings": [finding_plain(f) for f in found.findings],
    }


def _event(found: ClassifiedEvent) -> Plain:
    event = found.event
    return {
        "kind": event.kind.value,
        "class": found.paley.value,
        "seen_on": event.seen_on.isoformat(),
        "bone": None if event.bone is None else event.bone.value,
        "remedy": event.remedy.value,
        "remedy_words": event.remedy_words,
        "resolved_on": None if event.resolved_on is None else event.resolved_on.isoformat(),
        "interferes_with_goal": event.interferes_with_goal,
    }


def _score(score: Score) -> Plain:
    return {
        "name": score.name,
        "on": score.on.isoformat(),
        "value": score.value,
        "worst": score.worst,
        "best": score.best,
        "percent_of_best": round(score.percent_of_best(), 1),
    }


def _directed(value: Directed | None) -> Plain | None:
    return None if value is None else directed_plain(value)


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
