"""Results as plain JSON objects: units in the names, magnitudes with a word, never a bare sign."""

from typing import Any

from limbwright.case.measured import MeasuredCase, MeasuredLeg
from limbwright.finding import Finding
from limbwright.limb.reading import NotMeasured, Reading
from limbwright.quantity import LONGER_SHORTER, Directed, Measured, Sense, directed

Plain = dict[str, Any]


def directed_plain(value: Directed) -> Plain:
    """A magnitude with its unit as the key and its word, `{"deg": 8.3, "direction": "valgus"}`."""
    plain: Plain = {value.unit.replace(" ", "_"): round(value.magnitude, 4)}
    if value.direction is not Sense.NONE:
        plain["direction"] = value.direction.value
    return plain


def measured_plain(value: Measured | None, senses: tuple[Sense, Sense]) -> Plain | None:
    """A signed measured value as magnitude, word and standard uncertainty."""
    if value is None:
        return None
    return {
        **directed_plain(directed(value.value, unit=value.unit, senses=senses)),
        f"sd_{value.unit}": round(value.sd, 4),
    }


def finding_plain(finding: Finding) -> Plain:
    """A finding with its numbers, rule and source."""
    return {
        "id": finding.id,
        "severity": finding.severity.value,
        "words": finding.words,
        "next": finding.next_step,
        "numbers": [{"name": n.name, "value": round(n.value, 4), "unit": n.unit} for n in finding.numbers],
        "rule": finding.rule,
        "source": str(finding.source),
    }


def reading_plain(reading: Reading) -> Plain:
    """A reading with its norm, how far out of range it is, and how it was computed."""
    deviation = reading.deviation()
    norm = reading.norm
    return {
        "measure": reading.measure.value,
        **directed_plain(reading.shown()),
        f"sd_{reading.value.unit}": round(reading.value.sd, 4),
        "normal": None
        if norm is None
        else {"mean": norm.mean, "low": norm.low, "high": norm.high, "source": str(norm.source)},
        "normal_absent_because": reading.norm_absent or None,
        "out_of_range": None if deviation is None else directed_plain(deviation),
        "formula": reading.formula,
        "landmarks": [landmark.value for landmark in reading.landmarks],
    }


def not_measured_plain(item: NotMeasured) -> Plain:
    """A measurement that could not be made, and why."""
    return {"measure": item.measure.value, "reason": item.reason, "next": item.next_step}


def leg_plain(leg: MeasuredLeg) -> Plain:
    """All readings of one leg."""
    return {
        "readings": [reading_plain(r) for r in leg.all_readings()],
        "not_measured": [not_measured_plain(n) for n in leg.all_not_measured()],
    }


def measured_case_plain(result: MeasuredCase, findings: tuple[Finding, ...]) -> Plain:
    """Both legs, their difference, the templates and the findings."""
    d = result.difference
    return {
        "side": result.side.value,
        "age_years": round(result.age_years, 3),
        "treated": leg_plain(result.treated),
        "other": None if result.other is None else leg_plain(result.other),
        "difference": None
        if d is None
        else {
            "total": measured_plain(d.total, LONGER_SHORTER),
            "femur": measured_plain(d.femur, LONGER_SHORTER),
            "tibia": measured_plain(d.tibia, LONGER_SHORTER),
            "foot": measured_plain(d.foot, LONGER_SHORTER),
            "joint_space_and_bending": measured_plain(d.rest, LONGER_SHORTER),
            "knee_height": measured_plain(d.knee_height, LONGER_SHORTER),
            "same_film": d.same_film,
        },
        "templates": [
            {
                "measure": t.measure.value,
                "value": round(t.value, 4),
                "origin": t.origin.value,
                "reason": t.reason,
                "source": None if t.source is None else str(t.source),
            }
            for t in result.templates.values()
        ],
        "findings": [finding_plain(f) for f in findings],
    }
