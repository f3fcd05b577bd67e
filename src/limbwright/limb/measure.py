"""All measurements of one view of one leg, each with norm, uncertainty and reason when it is missing."""

import math
from collections.abc import Callable

from limbwright.error import OutOfRange
from limbwright.limb.alignment import (
    deviation_from_joint_angles_deg,
    deviation_from_lengths_mm,
    leg_from_lengths_mm,
)
from limbwright.limb.formula import FORMULAS, Formula
from limbwright.limb.landmark import Landmark, plain_words
from limbwright.limb.norm import norm_for_age
from limbwright.limb.reading import Measure, NotMeasured, Reading, Readings
from limbwright.limb.uncertainty import measured
from limbwright.limb.view import View
from limbwright.quantity import Measured, require_within


def readings(view: View, *, age_years: float, jlca: Measured | None = None) -> Readings:
    """Everything that can be measured on a view, and why the rest cannot.

    Parameters
    ----------
    view : View
        One leg in one projection; of one film, or of several that were assembled (`limb.patch`).
    age_years : float
        Age of the patient when the film was taken; below 7 years no adult range is used. [years]
    jlca : Measured, optional
        Joint line convergence angle read on a separate film, opening lateral +; used only when femur and
        tibia lie on films that share no landmarks. [deg]

    Returns
    -------
    Readings
        `values` in the order of `Measure`; `not_measured` names the landmark, the scale or the film that
        is missing.

    Notes
    -----
    Bone angles need one film. HKA, MAD and leg length reach across the knee: with two films they are read
    after the films were joined by shared landmarks, or else assembled from mLDFA, MPTA, JLCA and the two
    bone lengths (`alignment.deviation_from_joint_angles_deg`, `deviation_from_lengths_mm`).
    """
    require_within("age", age_years, 0.0, 120.0, "years", next_step="Check birth date and film date.")
    values: list[Reading] = []
    missing: list[NotMeasured] = []
    for measure in Measure:
        ways = [f for f in FORMULAS if f.measure is measure and f.projection is view.projection]
        if not ways:
            continue
        result = _read(view, ways, age_years=age_years)
        if isinstance(result, Reading):
            values.append(result)
        else:
            missing.append(result)
    return _assembled_across(view, tuple(values), tuple(missing), age_years=age_years, jlca=jlca)


def _read(view: View, ways: list[Formula], *, age_years: float) -> Reading | NotMeasured:
    measure = ways[0].measure
    if ways[0].unit == "mm" and not view.scaled:
        return NotMeasured(
            measure=measure,
            reason=f"the {view.projection} film has no scale, so no length can be given in millimetres.",
            next_step="Mark a calibration ball, a ruler or a nail of known diameter on it.",
        )
    marked = [way for way in ways if view.has(*way.landmarks)]
    if not marked:
        absent = tuple(landmark for landmark in ways[0].landmarks if landmark not in view.spots)
        names = ", ".join(f"'{plain_words(landmark)}'" for landmark in absent)
        return NotMeasured(
            measure=measure,
            reason=f"{names} {'is' if len(absent) == 1 else 'are'} not marked on the {view.projection} film.",
            missing=absent,
            next_step=f"Mark {names}.",
        )
    way = next((way for way in marked if view.in_one_frame(*way.landmarks)), None)
    if way is None:
        return _no_common_frame(view, marked[0])
    try:
        value = measured(view, way.compute, unit=way.unit, landmarks=way.landmarks)
    except OutOfRange as error:
        return NotMeasured(measure=measure, reason=error.found, next_step=error.next_step)
    return reading_of(measure, value, landmarks=way.landmarks, formula=way.words, age_years=age_years)


def reading_of(
    measure: Measure, value: Measured, *, landmarks: tuple[Landmark, ...], formula: str, age_years: float
) -> Reading:
    """A measured value laid beside its norm."""
    norm, absent = norm_for_age(measure, age_years=age_years)
    return Reading(
        measure=measure,
        value=value,
        landmarks=landmarks,
        formula=formula,
        norm=norm,
        norm_absent=absent,
        out_of_range=None if norm is None else norm.out_of_range(value.value),
    )


def _no_common_frame(view: View, way: Formula) -> NotMeasured:
    films = sorted({view.spots[landmark].patch for landmark in way.landmarks})
    return NotMeasured(
        measure=way.measure,
        reason=f"its landmarks lie on films that share no frame ({', '.join(films)}).",
        next_step=(
            "Mark two of the condyles, plateau edges or knee centres on both films, or give a joint line "
            "convergence angle read on a film of the knee."
        ),
    )


def _assembled_across(
    view: View,
    values: tuple[Reading, ...],
    missing: tuple[NotMeasured, ...],
    *,
    age_years: float,
    jlca: Measured | None,
) -> Readings:
    """Give HKA, MAD and leg length from bone angles when two films could not be joined."""
    found = {reading.measure: reading for reading in values}
    ends = (Landmark.FEMORAL_HEAD_CENTRE, Landmark.ANKLE_CENTRE)
    split = view.has(*ends) and not view.in_one_frame(*ends)
    if Measure.JLCA in found:
        jlca = found[Measure.JLCA].value
    if not split or jlca is None or not {Measure.MLDFA, Measure.MPTA} <= set(found):
        return Readings(values=values, not_measured=missing)
    deviation = _deviation(found[Measure.MLDFA].value, found[Measure.MPTA].value, jlca)
    made = {Measure.HKA: deviation}
    if {Measure.FEMUR_LENGTH, Measure.TIBIA_LENGTH} <= set(found):
        femur, tibia = found[Measure.FEMUR_LENGTH].value, found[Measure.TIBIA_LENGTH].value
        made[Measure.MAD] = _of_triangle(femur, tibia, deviation, deviation_from_lengths_mm)
        made[Measure.LEG_LENGTH] = _of_triangle(femur, tibia, deviation, leg_from_lengths_mm)
    marks = tuple(
        dict.fromkeys(
            found[Measure.MLDFA].landmarks
            + found[Measure.MPTA].landmarks
            + (found[Measure.JLCA].landmarks if Measure.JLCA in found else ())
        )
    )
    words = {
        Measure.HKA: "assembled across two films: mLDFA - MPTA + JLCA",
        Measure.MAD: "assembled across two films: F·T·sin d / sqrt(F² + T² + 2·F·T·cos d), "
        "d = mLDFA - MPTA + JLCA",
        Measure.LEG_LENGTH: "assembled across two films: sqrt(F² + T² + 2·F·T·cos d), "
        "d = mLDFA - MPTA + JLCA",
    }
    added = {
        m: reading_of(m, v, landmarks=marks, formula=words[m], age_years=age_years)
        for m, v in made.items()
        if m not in found
    }
    everything = found | added
    return Readings(
        values=tuple(everything[m] for m in Measure if m in everything),
        not_measured=tuple(n for n in missing if n.measure not in added),
    )


def _deviation(mldfa: Measured, mpta: Measured, jlca: Measured) -> Measured:
    return Measured(
        value=deviation_from_joint_angles_deg(
            mldfa_deg=mldfa.value, mpta_deg=mpta.value, jlca_deg=jlca.value
        ),
        sd=math.hypot(mldfa.sd, mpta.sd, jlca.sd),
        unit="deg",
    )


def _of_triangle(
    femur: Measured, tibia: Measured, deviation: Measured, formula: Callable[..., float]
) -> Measured:
    """A function of two independent lengths and their angle, with linear propagation of the three."""

    def at(f: float = 0.0, t: float = 0.0, d: float = 0.0) -> float:
        return formula(femur_mm=femur.value + f, tibia_mm=tibia.value + t, deviation_deg=deviation.value + d)

    step = 1e-3
    sd = math.hypot(
        (at(f=step) - at(f=-step)) / (2 * step) * femur.sd,
        (at(t=step) - at(t=-step)) / (2 * step) * tibia.sd,
        (at(d=step) - at(d=-step)) / (2 * step) * deviation.sd,
    )
    return Measured(value=at(), sd=sd, unit="mm")
