"""The tables behind the page for the wall: apexes, strategies, nails, distances, schedule, settings."""

from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase
from limbwright.case.situation import BoneDeformity
from limbwright.case.space import SpatialDeformity, spatial_deformities
from limbwright.course.healing import expected_healing
from limbwright.course.schedule import Day, last_distraction_day
from limbwright.finding import Number
from limbwright.implant.nail import Direction
from limbwright.limb.deformity import Deformity
from limbwright.limb.turn import Turn
from limbwright.plan.strategy import Strategy
from limbwright.practice.profile import Profile
from limbwright.quantity import LONGER_SHORTER, Measured, directed
from limbwright.report import words
from limbwright.report.context import Table

FIRST_OPERATION = "Distances hold with the bone corrected and not yet lengthened."


def plan_tables(
    case: Case, planned: PlannedCase, profile: Profile, schedules: tuple[tuple[Day, ...], ...]
) -> tuple[Table, ...]:
    """All tables that have something to say, in reading order."""
    found = (
        _difference(planned),
        apex_table(planned.deformities),
        space_table(spatial_deformities(planned.measured, planned.deformities)),
        _strategies(planned),
        *_bones(planned),
        _marks(planned),
        *_schedules(planned, profile, schedules),
        _settings(profile),
        _films(case, planned),
    )
    return tuple(table for table in found if table.rows)


def _difference(planned: PlannedCase) -> Table:
    d = planned.measured.difference
    parts: tuple[tuple[str, Measured | None], ...] = ()
    if d is not None:
        parts = (
            ("total", d.total),
            ("femur", d.femur),
            ("tibia", d.tibia),
            ("foot", d.foot),
            ("joint space and bending", d.rest),
            ("knee height", d.knee_height),
        )
    return Table(
        title="Treated leg against the other",
        header=("", "difference ± 95 %"),
        widths=("auto", "fill"),
        rows=tuple(
            (name, words.measured(value, directed(value.value, unit="mm", senses=LONGER_SHORTER)))
            for name, value in parts
            if value is not None
        ),
        note="Both legs on one film: an error of the scale falls out of the difference."
        if d is not None and d.same_film
        else "",
    )


def apex_table(seen: tuple[BoneDeformity, ...]) -> Table:
    """Apexes of both bones in both planes."""
    rows = [row for bone in seen for plane in bone.planes() for row in _apex_rows(plane)]
    return Table(
        title="Apex of the deformity",
        header=(
            "bone and plane",
            "pattern",
            "angle",
            "below proximal joint",
            "above distal joint",
            "axes drawn by",
        ),
        widths=("auto", "auto", "auto", "auto", "auto", "fill"),
        rows=tuple(rows),
    )


def space_table(found: tuple[SpatialDeformity, ...]) -> Table:
    """Both planes together: true size and plane, and the one turn that stands for it."""
    return Table(
        title="Deformity in space",
        header=("bone", "true angle", "plane from frontal", "apex points", "as one turn"),
        widths=("auto", "auto", "auto", "auto", "fill"),
        rows=tuple(
            (
                item.bone.value,
                f"{item.oblique.magnitude.value:.1f}° ± {1.96 * item.oblique.magnitude.sd:.1f}",
                "–" if item.oblique.from_frontal is None else f"{item.oblique.from_frontal.value:.0f}°",
                item.oblique.words or "–",
                "–" if item.turn is None else _turn_words(item.turn),
            )
            for item in found
        ),
        note="A femur's forward bow is taken as normal as far as the other femur has it.",
    )


def _turn_words(turn: Turn) -> str:
    if turn.axis is None:
        return f"shift of {turn.slide_mm:.1f} mm without angulation"
    return (
        f"{turn.angle_deg:.1f}° about an axis {abs(turn.inclination_deg):.0f}° out of the transverse plane, "
        f"{abs(turn.slide_mm):.1f} mm along it"
    )


def _apex_rows(plane: Deformity) -> list[tuple[str, ...]]:
    where = f"{plane.bone}, {plane.projection}"
    if not plane.apexes:
        return [(where, plane.pattern.value, words.said(plane.shown()), "–", "–", "")]
    return [
        (
            where,
            plane.pattern.value,
            f"{words.said(apex.shown())} ± {1.96 * apex.angulation.sd:.1f}",
            _level(apex.from_proximal_joint),
            _level(apex.from_distal_joint),
            f"{apex.proximal.construction} / {apex.distal.construction}",
        )
        for apex in plane.apexes
    ]


def _level(level: Measured | None) -> str:
    return "–" if level is None else f"{level.value:.0f} ± {1.96 * level.sd:.0f} mm"


def _strategies(planned: PlannedCase) -> Table:
    choice = planned.choice
    return Table(
        title="Which bone: the ways side by side",
        header=(
            "",
            "gain",
            "share of bone",
            "left over",
            "knee",
            "burden",
            "healed about day",
            "speaks against it",
        ),
        widths=("fill", "auto", "auto", "auto", "auto", "auto", "auto", "fill"),
        rows=tuple(_strategy_row(s, chosen=s == choice.recommended) for s in choice.strategies),
        note=" ".join(part for part in (choice.reason, choice.runner_up_reason) if part)
        + " Burden 1 is one bone at its limit.",
    )


def _strategy_row(strategy: Strategy, *, chosen: bool) -> tuple[str, ...]:
    shares = [share for stage in strategy.stages for share in stage.shares if share.lengthening_mm > 0]
    against = [f.words for f in (*strategy.excluded, *strategy.findings) if f.severity.value != "note"]
    return (
        f"{strategy.name}{' (chosen)' if chosen else ''}",
        ", ".join(f"{s.bone} {s.lengthening_mm:.0f} mm" for s in shares) or "none",
        ", ".join(f"{s.percent_of_bone:.0f} %" for s in shares) or "–",
        words.said(strategy.residual),
        words.said(strategy.knee_height),
        f"{strategy.burden_index:.2f}",
        f"{strategy.healed_typical_day:.0f} ({strategy.healed_low_day:.0f} to "
        f"{strategy.healed_high_day:.0f})",
        " ".join(against) or "nothing",
    )


def _bones(planned: PlannedCase) -> list[Table]:
    tables = []
    for proposal in planned.proposals:
        offered = [v for v in (proposal.nail, *proposal.runners_up) if v is not None]
        rows = [
            (v.nail.name, "taken" if v == proposal.nail else "would do", "; ".join(_numbers(v.numbers)))
            for v in offered
        ] + [(v.nail.name, "does not fit", " ".join(v.reasons)) for v in proposal.rejected]
        tables += [
            Table(
                title=f"How the plan of the {proposal.bone} came about",
                header=("",),
                widths=("fill",),
                rows=tuple((reason,) for reason in proposal.reasons),
            ),
            Table(
                title=f"Nails considered for the {proposal.bone}",
                header=("nail", "", "why"),
                widths=("auto", "auto", "fill"),
                rows=tuple(rows),
            ),
            Table(
                title=f"What each distance from the apex of the {proposal.bone} would cost",
                header=("cut from the apex", "sideways shift", "axial loss", "width in contact"),
                widths=("auto", "auto", "auto", "fill"),
                rows=tuple(
                    (
                        _from_apex(o.off_apex_mm),
                        f"{o.translation_mm:.1f} mm",
                        f"{o.axial_loss_mm:.1f} mm",
                        f"{o.contact_percent:.0f} %",
                    )
                    for o in proposal.off_apex
                ),
            ),
        ]
    return tables


def _from_apex(off_apex_mm: float) -> str:
    if abs(off_apex_mm) < 0.05:
        return "at the apex"
    return f"{abs(off_apex_mm):.0f} mm {'distal' if off_apex_mm > 0 else 'proximal'}"


def _numbers(numbers: tuple[Number, ...]) -> list[str]:
    return [f"{n.name} {n.value:.1f} {n.unit}".rstrip() for n in numbers]


def _marks(planned: PlannedCase) -> Table:
    rows = []
    for bone in planned.completed:
        for mark in bone.marks:
            offset = "" if mark.offset_mm is None else f"{mark.offset_mm:.1f} mm {mark.offset_side}"
            rows.append(
                (
                    mark.what,
                    "" if mark.size_mm is None else f"{mark.size_mm:g}",
                    f"{mark.from_proximal_mm:.0f} mm from {mark.proximal_reference}",
                    f"{mark.from_distal_mm:.0f} mm from {mark.distal_reference}",
                    mark.offset_side if not mark.offset_mm else offset,
                )
            )
    return Table(
        title="Hardware and where it is found under fluoroscopy",
        header=("what", "mm", "from proximal", "from distal", "from the nail's centre line"),
        widths=("fill", "auto", "auto", "auto", "auto"),
        rows=tuple(rows),
        note=FIRST_OPERATION,
    )


def _schedules(planned: PlannedCase, profile: Profile, schedules: tuple[tuple[Day, ...], ...]) -> list[Table]:
    tables = []
    for prescription, days in zip(planned.prescriptions, schedules, strict=True):
        done = next(b.plan for b in planned.completed if b.plan.bone is prescription.bone)
        last = last_distraction_day(days)
        healing = expected_healing(
            profile,
            bone=prescription.bone,
            retrograde=done.direction is Direction.RETROGRADE,
            age_years=planned.measured.age_years,
            gained_mm=prescription.target_mm,
            last_distraction_day=last.number,
        )
        tables.append(
            Table(
                title=f"Schedule of the {prescription.bone}",
                header=("days", "dates", "what", "steps a day", "gained at the end"),
                widths=("auto", "auto", "fill", "auto", "auto"),
                rows=tuple(_runs(days)),
                note=f"Last lengthening on day {last.number} ({last.on:%d %b %Y}). Films on days "
                + ", ".join(str(d.number) for d in days if d.film)
                + f". Healing expected about day {healing.mean_day:.0f} ({healing.from_day:.0f} to "
                f"{healing.to_day:.0f}; one standard deviation either way between patients).",
            )
        )
    return tables


def _runs(days: tuple[Day, ...]) -> list[tuple[str, ...]]:
    """Days that are alike, as one row each."""
    runs: list[list[Day]] = []
    for day in days:
        if runs and (runs[-1][-1].kind, runs[-1][-1].steps, runs[-1][-1].phase) == (
            day.kind,
            day.steps,
            day.phase,
        ):
            runs[-1].append(day)
        else:
            runs.append([day])
    return [
        (
            _span(str(run[0].number), str(run[-1].number)),
            _span(f"{run[0].on:%d %b}", f"{run[-1].on:%d %b %Y}"),
            run[0].phase,
            f"{run[0].steps} × {run[0].step_mm:g} mm" if run[0].steps else "–",
            f"{run[-1].gained_mm:g} mm",
        )
        for run in runs
    ]


def _span(first: str, last: str) -> str:
    return last if first == last or last.startswith(first) else f"{first} to {last}"


def _settings(profile: Profile) -> Table:
    return Table(
        title="Settings of this practice that differ from the defaults",
        header=("setting", "this practice", "default"),
        widths=("auto", "auto", "fill"),
        rows=tuple((name, f"{mine:}", f"{ours:}") for name, (mine, ours) in profile.differences().items()),
    )


def _films(case: Case, planned: PlannedCase) -> Table:
    views = [
        planned.measured.treated.views,
        *([planned.measured.other.views] if planned.measured.other else []),
    ]
    scales = {name: scale for view in views for name, scale in view.scales.items()}
    rows = []
    for film in case.films:
        scale = scales.get(film.name)
        known = scale.scale if scale is not None else None
        rows.append(
            (
                film.name,
                film.projection.value,
                f"{film.taken_on:%d %b %Y}" if film.taken_on else "not dated",
                "none: angles only"
                if known is None
                else f"{known.method}, ± {196 * known.relative_sd:.1f} %",
            )
        )
    return Table(
        title="Films and how their scale was found",
        header=("film", "projection", "taken", "scale, with its 95 % uncertainty"),
        widths=("auto", "auto", "auto", "fill"),
        rows=tuple(rows),
    )
