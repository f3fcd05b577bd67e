"""The linear model of a lengthened bone that the filter runs on.

State, in this order:

| | part | unit |
|---|---|---|
| 0 | length gained | mm |
| 1 | length given for each millimetre of steps made; about 1 | mm/mm |
| 2 | varus since the operation | deg |
| 3 | varus gained for each millimetre | deg/mm |
| 4 | error of the first frontal film, carried by every later difference | deg |
| 5–7 | the same three for procurvatum | |
| 8 | pixel value ratio of the cortex that decides (third best of four) | |
| 9 | its rise in a day | 1/d |

Over days on which the nail moves by `u` mm (lengthening +) in `t` days:

    length      += given · u               noise  length_noise² |u|
    angle       += angle per mm · u        noise  drift_noise² |u| + drift_rest_noise² t
    angle per mm                           noise  drift_per_mm_noise² |u|   (a random walk along u)
    ratio       += rise · t                noise  ratio_noise² t

Drift follows the millimetres, not the days: a fragment is pulled while tissues are stretched, so a slower
rate moves the day on which a limit is passed and not the length at which it is. New bone is taken to rise
evenly from the operation to healing; that it lingers while the gap opens and then rises faster is left out.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from limbwright.course.kalman import Belief, Floats, Reading, Transition, in_turn
from limbwright.error import Missing
from limbwright.limb.anatomy import Bone
from limbwright.plan.drift import Drift
from limbwright.practice.by_bone import healing_index_days_per_cm
from limbwright.practice.profile import Profile
from limbwright.published import Source, table
from limbwright.quantity import Value

LENGTH, GIVEN, RATIO, RISE = 0, 1, 8, 9
VARUS, VARUS_PER_MM, VARUS_ERROR = 2, 3, 4
PROCURVATUM, PROCURVATUM_PER_MM, PROCURVATUM_ERROR = 5, 6, 7
PLANES = ((VARUS, VARUS_PER_MM, VARUS_ERROR), (PROCURVATUM, PROCURVATUM_PER_MM, PROCURVATUM_ERROR))
SIZE = 10
MM_PER_CM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation(Value):
    """What is expected of a bone before the first visit."""

    bone: Bone
    """Femur or tibia."""
    retrograde: bool = False
    """True for a nail that enters the femur at the knee."""
    age_years: float
    """Age at the operation [years]."""
    target_mm: float
    """Length to gain; with the healing index it gives the time to healing [mm]."""
    drift: Drift | None = None
    """Drift at full length that the plan foresees; absent = none foreseen."""


@cache
def model_number(name: str, bone: Bone | None = None, entry: str = "") -> tuple[float, Source]:
    """A number of the model with its source."""
    for row in table("course", "state_model"):
        if (row.text("name"), row.text("bone"), row.text("entry")) == (name, bone or "", entry):
            return row.number("value"), row.source
    raise Missing(
        f"no number {name!r} for {bone or 'all bones'} {entry}.",
        where="course/tables/state_model.csv",
        next_step="Ask for a femur or a tibia.",
    )


def drift_per_mm_sd(expected: Expectation) -> tuple[float, Source]:
    """Spread between patients of the angulation gained for each millimetre. [deg/mm]"""
    if expected.bone is Bone.FEMUR:
        return model_number(
            "drift_per_mm_sd", Bone.FEMUR, "retrograde" if expected.retrograde else "antegrade"
        )
    return model_number("drift_per_mm_sd", expected.bone)


def start_of_course(expected: Expectation, profile: Profile) -> Belief:
    """What is believed on the day of the operation.

    Notes
    -----
    The rise of the ratio is (healed - start) / T, with T the mean healing time of the profile's healing
    index; its relative spread is that of the index.
    """
    mean, sd = np.zeros(SIZE), np.zeros(SIZE)
    mean[GIVEN], sd[GIVEN] = 1.0, model_number("length_per_prescribed_sd")[0]
    foreseen = (expected.drift.varus_deg, expected.drift.procurvatum_deg) if expected.drift else (0.0, 0.0)
    for (_, per_mm, error), degrees in zip(PLANES, foreseen, strict=True):
        mean[per_mm] = degrees / expected.target_mm if expected.target_mm > 0 else 0.0
        sd[per_mm] = drift_per_mm_sd(expected)[0]
        sd[error] = profile.angle_reading_sd_deg
    index = healing_index_days_per_cm(
        profile, bone=expected.bone, retrograde=expected.retrograde, age_years=expected.age_years
    )
    healing_days = index.value * max(expected.target_mm, 1.0) / MM_PER_CM
    mean[RATIO], sd[RATIO] = model_number("ratio_start")[0], model_number("ratio_start_sd")[0]
    mean[RISE] = (profile.pixel_value_ratio_healed - mean[RATIO]) / healing_days
    sd[RISE] = mean[RISE] * index.sd / index.value
    return Belief(mean, np.diag(sd**2))


def moved(change_mm: float, days: float) -> Transition:
    """Transition over days on which the nail moves in one direction by `change_mm` in all."""
    f, q = np.eye(SIZE), np.zeros((SIZE, SIZE))
    u = abs(change_mm)
    f[LENGTH, GIVEN] = change_mm
    q[LENGTH, LENGTH] = model_number("length_noise")[0] ** 2 * u
    walk = model_number("drift_per_mm_noise")[0] ** 2
    own = model_number("drift_noise")[0] ** 2 * u + model_number("drift_rest_noise")[0] ** 2 * days
    for angle, per_mm, _ in PLANES:
        f[angle, per_mm] = change_mm
        q[angle, angle] = own + walk * u**3 / 3
        q[angle, per_mm] = q[per_mm, angle] = walk * u * change_mm / 2
        q[per_mm, per_mm] = walk * u
    f[RATIO, RISE] = days
    q[RATIO, RATIO] = model_number("ratio_noise")[0] ** 2 * days
    return Transition(f, q)


def over_days(changes_mm: tuple[float, ...]) -> Transition:
    """Transition over days with these changes of length, in their order."""
    whole = Transition(np.eye(SIZE), np.zeros((SIZE, SIZE)))
    run_mm, run_days = 0.0, 0
    for change in changes_mm:
        if run_mm * change < 0:
            whole = in_turn(whole, moved(run_mm, run_days))
            run_mm, run_days = 0.0, 0
        run_mm += change
        run_days += 1
    return in_turn(whole, moved(run_mm, run_days))


def reading(
    *,
    length: tuple[float, float] | None = None,
    varus: tuple[float, float] | None = None,
    procurvatum: tuple[float, float] | None = None,
    ratio: tuple[float, float] | None = None,
) -> Reading | None:
    """What a visit measured, each as value and standard uncertainty; None when nothing was measured."""
    rows: list[Floats] = []
    pairs = []
    for value, parts in (
        (length, (LENGTH,)),
        (varus, (VARUS, VARUS_ERROR)),
        (procurvatum, (PROCURVATUM, PROCURVATUM_ERROR)),
        (ratio, (RATIO,)),
    ):
        if value is not None:
            row = np.zeros(SIZE)
            row[list(parts)] = 1.0
            rows.append(row)
            pairs.append(value)
    if not rows:
        return None
    # A reading said to be free of error would make the filter believe it against everything else.
    sds = np.maximum([sd for _, sd in pairs], 1e-3)
    return Reading(np.array([v for v, _ in pairs]), np.array(rows), np.diag(sds**2))
