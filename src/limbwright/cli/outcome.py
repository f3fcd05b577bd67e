"""`limbwright outcome CASE`: what came of a treatment against what was planned."""

from pathlib import Path

import click

from limbwright.cli import load, options, show
from limbwright.course.outcome import BoneOutcome, outcome
from limbwright.error import Missing
from limbwright.interop.plain_outcome import outcome_plain
from limbwright.report import words


@click.command("outcome")
@options.case
@options.profile
@options.as_json
def command(case: Path, profile: Path | None, json_: bool) -> None:
    """Compare what came of CASE with what was planned: length, alignment, motion, indices, adverse events."""
    subject = load.case_at(case, complete=False)
    if subject.course is None:
        raise Missing(
            "no operation is recorded.",
            where=f"case {subject.id!r}, course",
            next_step="Record the operation and the visits first.",
        )
    found = outcome(subject.course, load.profile_at(profile), before=subject.examination)
    findings = tuple(f for bone in found.bones for f in bone.findings)
    if json_:
        show.as_json({"case": subject.id, **outcome_plain(found)})
    else:
        for bone in found.bones:
            _print(bone)
        show.table(
            "Problems, obstacles, complications",
            ("seen on", "what", "treatment", "class"),
            [
                (
                    e.event.seen_on.isoformat(),
                    e.event.kind.value,
                    e.event.remedy_words or e.event.remedy.value,
                    e.paley.value,
                )
                for e in found.events
            ],
        )
        show.findings(findings)
        show.caution()
    show.exit_for(findings)


def _print(bone: BoneOutcome) -> None:
    end = bone.achieved
    rows = [
        (
            "length",
            f"{bone.planned_mm:g} mm",
            "not read" if end is None else f"{end.value:.1f} ± {1.96 * end.sd:.1f} mm",
        ),
        ("accuracy of length", "", _number(bone.accuracy_percent, "%")),
        ("precision from film to film", "", _number(bone.precision_percent, "%")),
        (
            "angulation, frontal film",
            "none",
            "not read" if bone.frontal is None else words.said(bone.frontal),
        ),
        (
            "angulation, sagittal film",
            "none",
            "not read" if bone.sagittal is None else words.said(bone.sagittal),
        ),
        *(
            (
                f"{one.measure}, follow-up film",
                "" if one.first_deg is None else f"{one.first_deg:.1f} deg on the first",
                f"{one.end.value:.1f} ± {1.96 * one.end.sd:.1f} deg",
            )
            for one in bone.joint_angles
        ),
        ("healing index", "", _number(bone.healing_index_days_per_cm, "days/cm")),
        ("distraction index", "", _number(bone.distraction_index_days_per_cm, "days/cm")),
        ("maturation index", "", _number(bone.maturation_index_days_per_cm, "days/cm")),
        *((one.name, _number(one.before_deg, "deg"), _number(one.end_deg, "deg")) for one in bone.motion),
    ]
    show.table(f"{bone.bone.value.capitalize()} (± 95 %)", ("", "planned or before", "achieved"), rows)


def _number(value: float | None, unit: str) -> str:
    return "not known" if value is None else f"{value:.0f} {unit}"
