"""The films of one leg through a whole lengthening: same leg and hardware, never quite the same position."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import Missing, OutOfRange
from limbwright.film.phantom.bones import Detail
from limbwright.film.phantom.films import FRONTAL_SETUP, SAGITTAL_SETUP, PhantomFilm, take_film
from limbwright.film.phantom.hardware import NO_HARDWARE, Hardware, Lengthening, Regenerate, Treatment
from limbwright.film.phantom.leg import PatientShape, Stance
from limbwright.film.phantom.setting import XraySetup
from limbwright.limb.anatomy import Bone, Side
from limbwright.quantity import Value, require_within


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmDay(Value):
    """What one follow-up film finds."""

    day: int
    """Days since the operation. [d]"""
    gap_mm: float
    """Distance drawn apart so far. [mm]"""
    varus_deg: float = 0.0
    """Drift of the distal fragment so far, varus +. [deg]"""
    procurvatum_deg: float = 0.0
    """Drift of the distal fragment so far, procurvatum +. [deg]"""
    density: float = 0.0
    """New bone's attenuation above soft tissue as a fraction of cortical bone's; 0 shows none."""

    def __post_init__(self) -> None:
        require_within("day of the film", self.day, 0, 3000, "d", next_step="Count from the operation.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Positioning(Value):
    """How much positioning differs from film to film; standard deviations."""

    rotation_deg: float = 2.5
    """Turn of the leg. [deg]"""
    knee_flexion_deg: float = 1.5
    """Bend of the knee, always toward flexion. [deg]"""
    ankle_mm: float = 6.0
    """Distance of the ankle from the midline. [mm]"""
    bone_detector_mm: float = 8.0
    """Distance of the bone from the detector. [mm]"""
    beam_mm: float = 15.0
    """Height of the beam's centre at the detector. [mm]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FollowUp:
    """One day's pair of films."""

    found: FilmDay
    """What was set."""
    frontal: PhantomFilm
    """Both legs from the front."""
    sagittal: PhantomFilm
    """The treated leg from the side."""


def film_days(
    *,
    total_mm: float,
    latency_days: int = 7,
    rate_mm_per_day: float = 0.75,
    interval_days: int = 14,
    consolidation_films: int = 3,
    drift_varus_deg: float = 0.0,
    drift_procurvatum_deg: float = 0.0,
    final_density: float = 0.8,
) -> tuple[FilmDay, ...]:
    """Days and findings of a whole course, from the operation to consolidation.

    Drift grows in proportion to length gained. Density stays low while the gap opens and rises afterwards to
    `final_density`; its course is an invention to have films to read, not a forecast.

    Parameters
    ----------
    total_mm : float
        Length to be gained. [mm]
    latency_days, interval_days : int
        Days before the first distraction, and between films. [d]
    rate_mm_per_day : float
        Rate. [mm/d]
    consolidation_films : int
        Films after the end of distraction, four weeks apart.
    drift_varus_deg, drift_procurvatum_deg : float
        Drift at full length. [deg]
    final_density : float
        Density on the last film, 0 to 1.
    """
    require_within(
        "length to be gained", total_mm, 1.0, 150.0, "mm", next_step="Give a length that was prescribed."
    )
    require_within("rate", rate_mm_per_day, 0.1, 2.0, "mm/d", next_step="Give the prescribed rate.")
    last = latency_days + int(np.ceil(total_mm / rate_mm_per_day))
    days = [0, *range(interval_days, last, interval_days), last]
    days += [last + 28 * number for number in range(1, consolidation_films + 1)]
    found = []
    for day in days:
        gap = float(np.clip((day - latency_days) * rate_mm_per_day, 0.0, total_mm))
        after = (day - last) / (28.0 * consolidation_films) if day > last else 0.0
        young = 0.12 * gap / total_mm
        found.append(
            FilmDay(
                day=day,
                gap_mm=gap,
                varus_deg=drift_varus_deg * gap / total_mm,
                procurvatum_deg=drift_procurvatum_deg * gap / total_mm,
                density=round(young + (final_density - young) * after, 4),
            )
        )
    return tuple(found)


def lengthening_series(
    patient: PatientShape,
    *,
    side: Side,
    bone: Bone,
    hardware: Hardware,
    days: Sequence[FilmDay],
    seed: int,
    positioning: Positioning | None = None,
    frontal: XraySetup = FRONTAL_SETUP,
    sagittal: XraySetup = SAGITTAL_SETUP,
    regenerate: Regenerate | None = None,
    detail: Detail = Detail.FINE,
) -> tuple[FollowUp, ...]:
    """Take the films of one lengthening.

    Parameters
    ----------
    patient : PatientShape
        Both legs.
    side, bone
        Where the osteotomy is.
    hardware : Hardware
        Hardware of that leg with the osteotomy as it stands on the day of the operation; gap and drift of
        each day are added to it.
    days : sequence of FilmDay
        What each pair of films finds, days rising.
    seed : int
        Seed of noise and positioning.
    positioning : Positioning, optional
        How much positioning varies; moderately unless given.
    frontal, sagittal : XraySetup
        Set-ups that positioning varies about.
    regenerate : Regenerate, optional
        Shape of the new bone; its density comes from `days`.
    detail : Detail
        How finely bones are meshed.

    Raises
    ------
    Missing
        If the hardware has no osteotomy of that bone.
    OutOfRange
        If the days do not rise.
    """
    cut = next(iter(hardware.cuts_of(bone)), None)
    if cut is None:
        raise Missing(
            f"no osteotomy of the {bone} was given.",
            where="phantom lengthening series",
            next_step="Add a Lengthening of that bone to the hardware.",
        )
    if [item.day for item in days] != sorted({item.day for item in days}):
        raise OutOfRange(
            f"days are {[item.day for item in days]}.",
            where="phantom lengthening series",
            next_step="Give each day once, in rising order.",
        )
    vary = positioning or Positioning()
    others = tuple(item for item in hardware.lengthenings if item is not cut)
    white: list[float | None] = [None, None]
    series = []
    for number, found in enumerate(days):
        rng = np.random.Generator(np.random.PCG64([seed, number]))
        now = replace(hardware, lengthenings=(*others, _grown(cut, found, regenerate)))
        treatment = Treatment(**{side.value: now, side.other().value: NO_HARDWARE})
        pair = []
        for view, setup in enumerate((frontal, sagittal)):
            film = take_film(
                patient,
                seed=int(rng.integers(2**31)),
                setup=_moved_setup(setup, vary, rng),
                side=side,
                treatment=treatment,
                right_stance=_moved_stance(vary, rng),
                left_stance=_moved_stance(vary, rng),
                detail=detail,
                white_at=white[view],
            )
            # All films of one projection share one window, as a reader would set it.
            white[view] = film.truth.presentation.high
            pair.append(film)
        series.append(FollowUp(found=found, frontal=pair[0], sagittal=pair[1]))
    return tuple(series)


def _grown(cut: Lengthening, found: FilmDay, regenerate: Regenerate | None) -> Lengthening:
    shape = regenerate or Regenerate()
    return replace(
        cut,
        gap_mm=cut.gap_mm + found.gap_mm,
        varus_deg=cut.varus_deg + found.varus_deg,
        procurvatum_deg=cut.procurvatum_deg + found.procurvatum_deg,
        regenerate=replace(shape, density=found.density) if found.density > 0 else None,
    )


def _moved_setup(setup: XraySetup, vary: Positioning, rng: np.random.Generator) -> XraySetup:
    return replace(
        setup,
        bone_detector_mm=setup.bone_detector_mm
        + float(np.clip(rng.normal(), -2.5, 2.5)) * vary.bone_detector_mm,
        beam_centre_y=setup.beam_centre_y + float(rng.normal()) * vary.beam_mm / setup.height_mm,
    )


def _moved_stance(vary: Positioning, rng: np.random.Generator) -> Stance:
    usual = Stance()
    return Stance(
        rotation_deg=float(rng.normal()) * vary.rotation_deg,
        knee_flexion_deg=abs(float(rng.normal())) * vary.knee_flexion_deg,
        ankle_offset_mm=usual.ankle_offset_mm + float(np.clip(rng.normal(), -2.5, 2.5)) * vary.ankle_mm,
    )
