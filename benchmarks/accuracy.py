"""How well assisted reading does on phantom films of known truth; writes docs/accuracy.md.

    python benchmarks/accuracy.py                 the whole table, 200 legs (`make accuracy`)
    python benchmarks/accuracy.py --legs 40 --first 1000 --only scale,new-bone --films out/films

Every leg is another random leg, stance, X-ray room and noise. Clicks are 4 mm off in random directions.
Truth is what falls on the film (projected), not what the leg is in space. Half of the patients (two legs
each) are followed up, some with a nail.

While working on a method: `--only` measures some parts (scale, joints, walls, register, new-bone, side), with
the same films and clicks as the whole run; `--films` keeps the films in a directory (54 MB a patient), so
that a second run takes seconds; `--first 1000` takes patients that the table never uses. Methods are tuned
on those, never on the patients of the table. A run that is not the whole table writes no page. `--jobs`
patients are measured at a time, each in its own process.
"""

import argparse
import sys
import time
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from accuracy_films import FilmShelf
from accuracy_follow_up import followed_patient
from accuracy_reader import Part, Reading
from accuracy_side import side_patient
from accuracy_standing import standing_patient

PAGE_FILE = Path(__file__).parents[1] / "docs" / "accuracy.md"
TARGETS = {
    "scale from the ball, film states its curve": ("%", 0.2),
    "scale from the ball, curve not stated": ("%", 0.2),
    "scale from a ruler": ("%", 0.2),
    "femoral head centre": ("mm", 0.5),
    "outer cortex": ("mm", 0.15),
    "outer cortex from the side": ("mm", 0.15),
    "canal width": ("mm", 0.4),
    "canal width from the side": ("mm", 0.4),
    "canal width beside a nail": ("mm", 0.8),
    "mid-diaphyseal line, straight tibia: direction": ("deg", 0.12),
    "mid-diaphyseal line, straight tibia: place": ("mm", 0.3),
    "mid-diaphyseal line, bowed femur: direction": ("deg", 0.3),
    "apex: angle": ("deg", 0.4),
    "apex: level": ("mm", 3.0),
    "mLDFA": ("deg", 0.6),
    "MPTA": ("deg", 0.6),
    "LDTA": ("deg", 0.6),
    "PPTA, with the true axis": ("deg", None),
    "MAD": ("mm", 1.0),
    "gained length since last film": ("mm", 0.4),
    "fragment angulation since last film": ("deg", 0.3),
    "attenuation ratio of new bone": ("1", 0.03),
}
WHY = {
    "scale from the ball, curve not stated": "Where on its blurred rim a ball ends depends on the curve by "
    "which the film shows attenuation; from the rim alone the curve cannot be told, even with the blur "
    "known. The ball's distance from the bone (0.35 % per 10 mm) outweighs it.",
    "canal width": "The phantom's spongy bone thins out toward the canal's wall, as it does in life: the "
    "canal looks a little narrower than the wall of the cortex; on films with much noise texture adds to it.",
    "canal width from the side": "From the side the fibula crosses the canal of the tibia, and its wall runs "
    "along the endosteum behind; where both are equally steep either may be followed, which the stated "
    "uncertainty holds only in part. On a few films tibia and fibula together are taken for one bone "
    "with a nail.",
    "canal width beside a nail": "Where less than about a millimetre is left between nail and wall, the two "
    "edges melt into one.",
    "mLDFA": "A condyle line taken for another edge on a few films.",
    "MPTA": "The plateau slopes in the beam, so that it falls on the film as a band; its middle is known "
    "only as well as both borders of the band are seen.",
    "LDTA": "The middle of the ankle, which the axis starts from, depends on every edge of the mortise.",
    "PPTA, with the true axis": "Medial and lateral plateau lie over each other from the side; where the leg "
    "is turned or the plateau leans, they fall apart, and the line between front and back rim is not known "
    "better than to 1 to 2 degrees. Condyles and plafond from the side are marked by hand.",
    "MAD": "Half of the ankle centre's error (see LDTA) and all of the knee centre's come through.",
    "attenuation ratio of new bone": "Scattered light thins dense bone more than new bone; its usual share "
    "is taken off, what differs from it stays. The rest is noise and the soft tissue before and behind the "
    "bone, which can only be inferred.",
    "apex: level": "For a bend of 8 degrees an error of 0.1 degree in each line moves their crossing by over "
    "a millimetre; short fragments give short lines.",
    "fragment angulation since last film": "A proximal fragment of 30 to 50 mm gives a short line, and its "
    "grey values move with the knee; a leg turned between films changes the outline itself.",
}


@dataclass
class Tally:
    """Errors of one quantity, with how often the stated 95 % interval held the truth."""

    errors: list[float] = field(default_factory=list)
    within: list[bool] = field(default_factory=list)


def collect(readings: list[Reading], tallies: dict[str, Tally]) -> None:
    for reading in readings:
        tally = tallies[reading.quantity]
        tally.errors.append(reading.error)
        if reading.sd is not None:
            tally.within.append(abs(reading.error) <= 1.96 * reading.sd)


def table(tallies: dict[str, Tally], refused: dict[str, int], *, whole: bool) -> list[str]:
    lines = [
        "| Quantity | Readings | Median error | 95th percentile | Target | Met | Truth inside stated 95 % |",
        "|---|---|---|---|---|---|---|",
    ]
    for quantity, (unit, target) in TARGETS.items():
        tally = tallies.get(quantity)
        if tally is None or not tally.errors:
            if whole:
                lines.append(f"| {quantity} | 0 | - | - | {_target(target, unit)} | not measured | - |")
            continue
        size = np.abs(tally.errors)
        reached = float(np.quantile(size, 0.95))
        inside = f"{100 * np.mean(tally.within):.0f} %" if tally.within else "-"
        lines.append(
            f"| {quantity} | {len(size)} | {np.median(tally.errors):+.3f} {unit} | {reached:.3f} {unit} | "
            f"{_target(target, unit)} | {_met(reached, target)} | {inside} |"
        )
    if refused:
        words = ", ".join(f"{name}: {count}" for name, count in sorted(refused.items()))
        lines += ["", f"Refused or flagged as poorly supported, and so left out: {words}."]
    missed = [
        q
        for q, (_, target) in TARGETS.items()
        if q in tallies
        and tallies[q].errors
        and _met(float(np.quantile(np.abs(tallies[q].errors), 0.95)), target) != "yes"
    ]
    if missed:
        lines += ["", "Where a target was not met or is not set:", ""]
        lines += [f"- {q}: {WHY.get(q, 'see the notes below.')}" for q in missed]
    return lines


def _target(target: float | None, unit: str) -> str:
    return "none set" if target is None else f"{target:g} {unit}"


def _met(reached: float, target: float | None) -> str:
    return "-" if target is None else "yes" if reached <= target else "no"


def _parts(text: str) -> frozenset[Part]:
    return frozenset(Part(name) for name in text.split(","))


def measured(number: int, *, parts: frozenset[Part], shelf: FilmShelf) -> tuple[list[Reading], list[str]]:
    """Everything that is read on the films of one patient."""
    readings: list[Reading] = []
    refusals: list[str] = []
    for patient, measures in (
        (standing_patient, {Part.SCALE, Part.JOINTS, Part.WALLS}),
        (followed_patient, {Part.WALLS, Part.REGISTER, Part.NEW_BONE}),
        (side_patient, {Part.SIDE}),
    ):
        if measures & parts and (patient is not followed_patient or number % 2 == 0):
            more, others = patient(number, parts, shelf)
            readings, refusals = readings + more, refusals + others
    return readings, refusals


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--legs", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="number of the first patient; tune from 1000 on")
    parser.add_argument("--only", type=_parts, default=frozenset(Part), help="parts, such as scale,new-bone")
    parser.add_argument("--films", type=Path, help="directory that keeps the films for the next run")
    parser.add_argument("--write", type=Path, help="page to write; docs/accuracy.md for the whole table")
    parser.add_argument("--jobs", type=int, default=2, help="patients measured at a time")
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    whole = options.only == frozenset(Part) and options.first == 0 and options.legs >= 200
    page_file = options.write or (PAGE_FILE if whole else None)
    shelf = FilmShelf(options.films)
    tallies: dict[str, Tally] = defaultdict(Tally)
    refused: dict[str, int] = defaultdict(int)
    started = time.perf_counter()
    patients = range(options.first, options.first + (options.legs + 1) // 2)
    pool = ProcessPoolExecutor(options.jobs)
    found = pool.map(partial(measured, parts=options.only, shelf=shelf), patients)
    for done, (number, (readings, refusals)) in enumerate(zip(patients, found, strict=True), start=1):
        collect(readings, tallies)
        for name in refusals:
            refused[name] += 1
        if options.verbose:
            worst = sorted(readings, key=lambda r: -abs(r.error) / (TARGETS[r.quantity][1] or 1.0))[:3]
            print(number, [(r.quantity, round(r.error, 3)) for r in worst], flush=True)
        # Written as it goes, with the number of legs it stands for, so that a long run can be looked into.
        if page_file and (done % 10 == 0 or done == len(patients)):
            page = PAGE.format(legs=2 * done, table="\n".join(table(tallies, refused, whole=whole)))
            page_file.write_text(page, encoding="utf-8")
    pool.shutdown()
    print("\n".join(table(tallies, refused, whole=whole)))
    print(f"{time.perf_counter() - started:.0f} s")


PAGE = """# How accurate assisted reading is

Decision support for a licensed surgeon; not a medical device. Check every figure against the implant's own
instructions and local rules.

Measured on {legs} random phantom legs (`make accuracy`, written by `benchmarks/accuracy.py`; do not edit by
hand). Every leg has its own shape, stance (turned up to 8 degrees), X-ray room (noise, blur, scatter, curve)
and deformity; every click is 4 mm off in a random direction. Every second patient is followed up: one
tibia in lengthening, on two films. Errors are against what falls on the film. Lengths are in millimetres at
the bone. A phantom is kinder than a patient in some ways: its walls are smooth, and it has no osteophytes,
casts or old
fractures. How the figures come about stands in [assisted reading](assisted-reading.md).

{table}

## Notes

- Walls are judged at every seventh millimetre that the trace calls found, tuberosity included.
- Scale: the ball lies in the plane of the bones; its distance from that plane is a term of its own, stated
  with every scale (about 0.35 % per 10 mm at a source distance of 3 m).
- Angles are read with the snapped centre of the head, the midpoint between the snapped condyles, the midpoint
  of the snapped plateau, and the midpoint of the snapped plafond. Their uncertainty is put together from
  those that the circle and the lines state.
- The plateau's truth is the middle of each plateau as it falls on the film. A phantom's joints all have one
  shape at several sizes, and the proportions by which a middle is found were tuned on other legs of the same
  phantom: on patients the middle of ankle and knee is known less well than here.
- From the side: one lower leg of every patient. No target was set for the slope of the plateau.
- Apexes: bends of 8 degrees or more, where both lines of the bent bone are traced over 40 mm or more. Lines
  and apexes are compared with lines through the true middles of the outline, as a reader sees it.
- Attenuation ratio: each cortex and the whole gap against the same lanes, with the same walls and the true
  ends of the gap, on a film of the same leg without noise, scatter, texture or curve. It tells what these do
  to the ratio, not where the walls lie.
- Follow-up: without a nail the distal fragment turns up to 4 degrees between both films, with a nail up to
  1.2 degrees, as much as its canal allows.
- Registration is given the mid-diaphyseal lines of both fragments and pieces that reach to knee and ankle.
"""


if __name__ == "__main__":
    main()
