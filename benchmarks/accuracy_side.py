"""Films of one leg from the side: slope of the plateau and walls of the tibia against projected truth."""

from dataclasses import replace

import numpy as np

from accuracy_films import FilmShelf, generator, random_detector, random_leg
from accuracy_reader import Part, Reader, Reading
from limbwright.error import LimbwrightError
from limbwright.film import phantom
from limbwright.film.phantom import WallKind
from limbwright.film.snap import JointLine, find_joint_line
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark


def side_patient(number: int, parts: frozenset[Part], shelf: FilmShelf) -> tuple[list[Reading], list[str]]:
    """The lower leg of one patient from the side."""
    rng = generator(4, number)
    leg = random_leg(rng, bend=False)
    setup = replace(
        phantom.SAGITTAL_SETUP,
        bone_detector_mm=rng.uniform(100, 200),
        detector=random_detector(rng),
        height_mm=leg.tibia_length_mm + 150.0,
        top_above_hip_mm=60.0 - leg.femur_length_mm,
    )
    film = shelf.film(
        f"side-{number}",
        phantom.PatientShape(right=leg, left=leg),
        seed=number,
        setup=setup,
        side=Side.RIGHT,
        right_stance=phantom.Stance(rotation_deg=rng.uniform(-8, 8), ankle_offset_mm=rng.uniform(60, 110)),
        balls=(),
    )
    reader = Reader(film, (5, number), parts)
    reader.begin(Part.SIDE)
    truth = film.truth.leg(Side.RIGHT)
    _plateau(reader, truth)
    outer, canal = (
        next(w for w in truth.walls if w.bone is Bone.TIBIA and w.kind is kind) for kind in WallKind
    )
    trace = reader.trace(outer.axis_px)
    if trace is not None:
        reader.walls(trace, outer, canal, nailed=False, film=" from the side")
    return reader.readings, reader.refused


def _plateau(reader: Reader, truth) -> None:
    ends = [
        np.array(truth.landmarks_px[name]) for name in (Landmark.PLATEAU_ANTERIOR, Landmark.PLATEAU_POSTERIOR)
    ]
    try:
        line = find_joint_line(
            reader.plate,
            reader.click(ends[0]),
            reader.click(ends[1]),
            kind=JointLine.PLATEAU,
            projection=Projection.SAGITTAL,
        )
    except LimbwrightError:
        reader.refuse("plateau from the side")
        return
    found, true = np.subtract(line.second_px, line.first_px), ends[1] - ends[0]
    turn = np.degrees(np.arctan2(found[1], found[0]) - np.arctan2(true[1], true[0]))
    sd = np.degrees(np.sqrt(2) * line.sd_mm / (np.hypot(*found) * reader.plate.column_mm))
    reader.note("PPTA, with the true axis", (turn + 180.0) % 360.0 - 180.0, float(sd))
