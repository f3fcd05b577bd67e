"""Four charts of one bone on one axis of days, as plain JSON: planned, measured, ahead.

Values on a chart are signed so that they can be drawn; each chart says in words what up and down mean.
Bands are 95 % intervals.
"""

from collections.abc import Callable, Iterable, Iterator

from limbwright.course.forecast import ForecastDay
from limbwright.course.outlook import BoneOutlook
from limbwright.course.schedule import Day, schedule
from limbwright.course.standing import Standing
from limbwright.course.state_model import model_number
from limbwright.course.visit import Visit
from limbwright.interop.plain import Plain
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.quantity import Measured

FORECAST_POINTS = 60
"""Days ahead that are drawn, about; the first, the end of lengthening and the last are among them."""

LISTED_DOSE_DAYS = 28
"""Days with doses that are listed for the diary, the latest ones."""


def charts_plain(bone: BoneOutlook, *, before: Examination | None = None) -> Plain:
    """Length, alignment, motion and new bone of one bone, on the same days.

    Parameters
    ----------
    bone : BoneOutlook
        The bone on a day.
    before : Examination, optional
        Joint motion before the operation.
    """
    s = bone.standing
    healed = s.ahead.healed_day.likely
    last = max(s.days[-1].number, s.today, s.ahead.days[-1].number, healed or 0)
    return {
        "bone": s.bone.value,
        "operated_on": s.treatment.operated_on.isoformat(),
        "today": s.today,
        "last_day": last,
        "film_days": [d.number for d in s.days if d.film],
        "phases": list(_phases(s.days)),
        "visits": [
            {
                "day": s.treatment.day_number(on),
                "on": on.isoformat(),
                "pace": said.pace.value,
                "films": list(next(v.films for v in s.visits if v.seen_on == on)),
                "stop": any(f.severity.value == "stop" for f in said.findings),
            }
            for on, said in bone.history
        ],
        "events": _events(s),
        "doses": [
            {
                "day": d.number,
                "on": d.on.isoformat(),
                "prescribed": d.steps_prescribed,
                "made": d.steps_reported,
                "written_down": d.written_down,
            }
            for d in s.book.days
            if d.steps_prescribed or d.written_down
        ][-LISTED_DOSE_DAYS:],
        "charts": [_length(s), _alignment(s), _motion(s, before), _new_bone(s)],
    }


def _phases(days: tuple[Day, ...]) -> Iterator[Plain]:
    """Runs of days of one kind."""
    first = days[0]
    for day, following in zip(days, (*days[1:], None), strict=True):
        if following is None or following.kind is not day.kind:
            yield {"kind": first.kind.value, "from_day": first.number, "to_day": day.number}
            first = following or day


def _events(s: Standing) -> list[Plain]:
    t = s.treatment
    named = (
        ("operation", 0),
        ("target, likely", s.ahead.target_day.likely if s.lengthening else None),
        ("healed, likely", s.ahead.healed_day.likely if t.consolidated_on is None else None),
        ("consolidated", None if t.consolidated_on is None else t.day_number(t.consolidated_on)),
        ("full weight", None if t.full_weight_on is None else t.day_number(t.full_weight_on)),
        ("nail removed", None if t.nail_removed_on is None else t.day_number(t.nail_removed_on)),
        *((f"change: {a.reason}" if a.reason else "change", a.from_day) for a in t.amendments),
    )
    return [{"what": what, "day": day} for what, day in named if day is not None]


def _length(s: Standing) -> Plain:
    target = s.treatment.target_mm
    return {
        "name": "length",
        "unit": "mm",
        "up": "longer",
        "down": "shorter",
        "limits": [{"words": f"target {target:g} mm", "value": target}],
        "series": [
            {
                "name": "length gained",
                "planned": _corners(schedule(s.treatment.prescription, s.treatment.operated_on)),
                "prescribed": _corners(s.days),
                "reported": [
                    [d.number, d.reported_mm] for d in s.book.days[:: max(1, len(s.book.days) // 80)]
                ],
                "measured": [_point(d.number, d.measured) for d in s.book.days if d.measured is not None],
                "estimated": [_point(state.day, state.length) for state in s.estimate.at_visits],
                "forecast": _ahead(s, lambda day: day.length),
            }
        ],
    }


def _alignment(s: Standing) -> Plain:
    limit = s.profile.drift_limit_deg
    sd = s.profile.angle_reading_sd_deg * 2**0.5  # of this film and of the first

    def read(visit: Visit, frontal: bool) -> Plain | None:
        alignment = visit.alignment_of(s.bone)
        value = None if alignment is None else alignment.varus_deg if frontal else alignment.procurvatum_deg
        if alignment is None or value is None:
            return None
        of_film = None if alignment.angle_sd_deg is None else alignment.angle_sd_deg * 2**0.5
        return _point(
            _day(s, visit), Measured(value=value, sd=sd if of_film is None else of_film, unit="deg")
        )

    return {
        "name": "alignment",
        "unit": "deg",
        "up": "varus, procurvatum",
        "down": "valgus, recurvatum",
        "limits": [
            {"words": f"limit {limit:g}°", "value": limit},
            {"words": f"limit {limit:g}°", "value": -limit},
        ],
        "series": [
            {
                "name": "frontal film",
                "planned": _planned_angle(s, frontal=True),
                "measured": _known(read(v, True) for v in s.visits),
                "estimated": [_point(state.day, state.varus) for state in s.estimate.at_visits],
                "forecast": _ahead(s, lambda day: day.varus),
            },
            {
                "name": "sagittal film",
                "planned": _planned_angle(s, frontal=False),
                "measured": _known(read(v, False) for v in s.visits),
                "estimated": [_point(state.day, state.procurvatum) for state in s.estimate.at_visits],
                "forecast": _ahead(s, lambda day: day.procurvatum),
            },
        ],
    }


def _planned_angle(s: Standing, *, frontal: bool) -> list[list[float]]:
    """Drift that the plan foresees, in proportion to the length planned; a straight line without a forecast.

    Without a forecast one line says it for both films.
    """
    end = s.ahead.days[-1].number
    drift = s.facts.drift
    if drift is None:
        return [[0, 0.0], [end, 0.0]] if frontal else []
    full = drift.varus_deg if frontal else drift.procurvatum_deg
    planned = _corners(schedule(s.treatment.prescription, s.treatment.operated_on))
    target = s.treatment.prescription.target_mm
    points = [[day, round(full * gained / target, 3)] for day, gained in planned]
    return [*points, [max(end, points[-1][0]), points[-1][1]]]


def _motion(s: Standing, before: Examination | None) -> Plain:
    """Ankle for a tibia, knee for a femur, knee extension for both; there is no model of motion ahead."""
    p = s.profile
    tibia = s.bone is Bone.TIBIA
    name, field = (
        ("ankle dorsiflexion, knee straight", "ankle_dorsiflexion_deg")
        if tibia
        else ("knee flexion", "knee_flexion_deg")
    )
    limits = (
        [
            {
                "words": f"equinus limit {p.equinus_limit_lengthening_deg:g}°",
                "value": -p.equinus_limit_lengthening_deg,
            }
        ]
        if tibia
        else [
            {
                "words": f"stop below {p.knee_flexion_stop_below_deg:g}°",
                "value": p.knee_flexion_stop_below_deg,
            }
        ]
    )
    series = []
    for words, key in ((name, field), ("loss of knee extension", "knee_extension_loss_deg")):
        was = None if before is None else getattr(before, key)
        measured = _known(
            None
            if v.clinical is None or (value := getattr(v.clinical, key)) is None
            else _point(_day(s, v), Measured(value=value, sd=p.joint_motion_sd_deg, unit="deg"))
            for v in s.visits
        )
        series.append(
            {
                "name": words,
                "planned": [] if was is None else [[0, was], [s.days[-1].number, was]],
                "measured": measured,
                "estimated": [],
                "forecast": [],
            }
        )
    return {
        "name": "motion",
        "unit": "deg",
        "up": "more",
        "down": "equinus" if tibia else "less",
        "limits": limits,
        "series": series,
        "no_forecast": "Joint motion is not forecast: no model of it is known to us. Planned is the motion "
        "before the operation.",
    }


def _new_bone(s: Standing) -> Plain:
    p = s.profile

    def read(visit: Visit) -> Plain | None:
        new = visit.new_bone_of(s.bone)
        ratio = None if new is None else new.carrying_ratio(default_sd=p.pixel_value_ratio_sd)
        return None if ratio is None else _point(_day(s, visit), ratio)

    start = model_number("ratio_start")[0]
    healed = p.pixel_value_ratio_healed
    usual = [] if s.healing is None else [[0, start], [round(s.healing.mean_day, 1), healed]]
    return {
        "name": "new bone",
        "unit": "ratio",
        "up": "denser",
        "down": "less dense",
        "limits": [{"words": f"healed from {healed:g}", "value": healed}],
        "usual_healing_days": None
        if s.healing is None
        else {
            "low": round(s.healing.from_day, 1),
            "typical": round(s.healing.mean_day, 1),
            "high": round(s.healing.to_day, 1),
        },
        "series": [
            {
                "name": "density of the deciding cortex",
                "planned": usual,
                "measured": _known(read(v) for v in s.visits),
                "estimated": [_point(state.day, state.ratio) for state in s.estimate.at_visits],
                "forecast": _ahead(s, lambda day: day.ratio),
            }
        ],
    }


def _corners(days: tuple[Day, ...]) -> list[list[float]]:
    """Only the days at which the slope changes: the same line in fewer points."""
    kept = [
        day
        for before, day, after in zip((None, *days[:-1]), days, (*days[1:], None), strict=True)
        if before is None
        or after is None
        or abs((after.gained_mm - day.gained_mm) - (day.gained_mm - before.gained_mm)) > 1e-9
    ]
    return [[day.number, day.gained_mm] for day in kept]


def _ahead(s: Standing, part: Callable[[ForecastDay], Measured]) -> list[Plain]:
    days = s.ahead.days
    every = max(1, -(-len(days) // FORECAST_POINTS))
    end = s.ahead.end.number
    chosen = [d for i, d in enumerate(days) if i % every == 0 or d.number == end or d is days[-1]]
    return [_point(day.number, part(day)) for day in chosen]


def _point(day: int, value: Measured) -> Plain:
    low, high = value.interval95()
    return {"day": day, "value": round(value.value, 4), "low": round(low, 4), "high": round(high, 4)}


def _day(s: Standing, visit: Visit) -> int:
    return s.treatment.day_number(visit.seen_on)


def _known(points: Iterable[Plain | None]) -> list[Plain]:
    return [point for point in points if point is not None]
