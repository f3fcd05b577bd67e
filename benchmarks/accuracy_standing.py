"""Standing films of both legs: scale, joints, walls, apexes against projected truth."""

import numpy as np

from accuracy_films import FilmShelf, generator, random_detector, random_leg
from accuracy_reader import PX_MM, Part, Reader, Reading, between_deg, direction_deg
from limbwright.error import LimbwrightError
from limbwright.film import phantom
from limbwright.film.phantom import WallKind
from limbwright.film.snap import FoundLine, JointLine, find_head, find_joint_line
from limbwright.film.tracing import ShaftTrace, shaft_line
from limbwright.limb.anatomy import Bone, Side
from limbwright.limb.landmark import Landmark


def standing_patient(
    number: int, parts: frozenset[Part], shelf: FilmShelf
) -> tuple[list[Reading], list[str]]:
    """One patient with both legs on one film."""
    rng = generator(1, number)
    bends = (bool(rng.random() < 0.6), bool(rng.random() < 0.6))
    patient = phantom.PatientShape(
        right=random_leg(rng, bends[0]), left=random_leg(rng, bends[1]), hip_distance_mm=rng.uniform(165, 190)
    )
    stances = [
        phantom.Stance(rotation_deg=rng.uniform(-8, 8), ankle_offset_mm=rng.uniform(60, 110))
        for _ in range(2)
    ]
    setup = phantom.XraySetup(
        bone_detector_mm=rng.uniform(100, 200), detector=random_detector(rng), height_mm=1200.0
    )
    # Beside the leg, where a radiographer hangs it so that it hides no bone.
    ball = phantom.Ball(viewer_right_mm=-188.0, below_hip_mm=560.0)
    film = shelf.film(
        f"standing-{number}",
        patient,
        seed=number,
        setup=setup,
        right_stance=stances[0],
        left_stance=stances[1],
        balls=(ball,),
        ruler=phantom.Ruler(viewer_right_mm=185.0, below_hip_mm=120.0, length_mm=700.0),
    )
    reader = Reader(film, (3, number), parts)
    reader.ball()
    reader.ruler()
    for leg in film.truth.legs:
        _standing_leg(reader, leg)
    return reader.readings, reader.refused


def _standing_leg(reader: Reader, leg) -> None:
    if Part.JOINTS in reader.parts:
        reader.begin(Part.JOINTS, leg.side)
        marks = {name: np.array(at) for name, at in leg.landmarks_px.items()}
        _angles(reader, leg, _joints(reader, marks))
    if Part.WALLS in reader.parts:
        reader.begin(Part.WALLS, leg.side)
        _shafts(reader, leg)


def _shafts(reader: Reader, leg) -> None:
    for bone in (Bone.FEMUR, Bone.TIBIA):
        pieces = sorted({wall.level for wall in leg.walls if wall.bone is bone}, key=lambda level: level[0])
        traced = []
        for level in pieces:
            outer, canal = (
                next(w for w in leg.walls if w.bone is bone and w.level == level and w.kind is kind)
                for kind in WallKind
            )
            if np.hypot(*(outer.axis_px[-1] - outer.axis_px[0])) * reader.mm_per_px < 40:
                continue
            trace = reader.trace(outer.axis_px)
            if trace is None:
                continue
            reader.walls(trace, outer, canal, nailed=False)
            # Lines are drawn below the tuberosity, which bends the middle of the outline.
            top = max(0.0, (0.32 - level[0]) / (level[1] - level[0])) if bone is Bone.TIBIA else 0.0
            _line(reader, trace, outer, bone, straight=len(pieces) == 1, skip=top)
            traced.append((trace, outer))
        if bone is Bone.TIBIA and len(pieces) == 2 and len(traced) == 2:
            _apex(reader, traced)


def _line(reader: Reader, trace: ShaftTrace, outer, bone: Bone, *, straight: bool, skip: float) -> None:
    """Direction and place of the line against the line through the true middles over the same stretch."""
    first = round(skip * len(outer.axis_px))
    middle = 0.5 * (outer.low_px + outer.high_px)[first:]
    depth = trace.depth_mm
    start = float(np.hypot(*(outer.axis_px[first] - outer.axis_px[0]))) * PX_MM if first else 0.0
    # On a bowed femur lines are drawn through local stretches: take the lower half.
    low = depth[-1] * 0.5 if bone is Bone.FEMUR else start
    try:
        line = shaft_line(trace, from_mm=low)
    except LimbwrightError:
        reader.refuse("shaft line")
        return
    keep = (middle[:, 1] >= line.upper_px[1]) & (middle[:, 1] <= line.lower_px[1])
    if keep.sum() < 10:
        return
    error = line.direction_deg - direction_deg(middle[keep])
    if bone is Bone.FEMUR:
        reader.note("mid-diaphyseal line, bowed femur: direction", error, line.direction_sd_deg)
        return
    if straight:
        reader.note("mid-diaphyseal line, straight tibia: direction", error, line.direction_sd_deg)
        fit = np.polyfit(middle[keep][:, 1], middle[keep][:, 0], 1)
        at = 0.5 * (np.array(line.upper_px) + np.array(line.lower_px))
        place = (at[0] - np.polyval(fit, at[1])) * np.cos(np.arctan(fit[0])) * reader.mm_per_px
        reader.note("mid-diaphyseal line, straight tibia: place", place, line.offset_sd_mm * reader.at_bone)


def _apex(reader: Reader, traced) -> None:
    """Angle and level where two traced lines cross, against the same with the true axes."""
    try:
        found = [shaft_line(trace) for trace, _ in traced]
    except LimbwrightError:
        reader.refuse("shaft line")
        return
    axes = [0.5 * (outer.low_px + outer.high_px) for _, outer in traced]
    true_lines = []
    for axis in axes:
        fit = np.polyfit(axis[:, 1], axis[:, 0], 1)
        true_lines.append((np.array([np.polyval(fit, axis[0, 1]), axis[0, 1]]), np.array([fit[0], 1.0])))
    ours = [(np.array(line.upper_px), np.array(line.lower_px) - np.array(line.upper_px)) for line in found]
    angle = found[1].direction_deg - found[0].direction_deg
    true_angle = np.degrees(np.arctan(true_lines[1][1][0])) - np.degrees(np.arctan(true_lines[0][1][0]))
    if abs(true_angle) < 8.0:
        return
    reader.note(
        "apex: angle",
        angle - true_angle,
        float(np.hypot(found[0].direction_sd_deg, found[1].direction_sd_deg)),
    )
    crossing, true_crossing = _crossing(*ours), _crossing(*true_lines)
    along = true_lines[0][1] / np.hypot(*true_lines[0][1])
    spread = sum(
        (line.offset_sd_mm**2)
        + (
            np.radians(line.direction_sd_deg)
            * 0.5
            * np.hypot(*(np.subtract(line.lower_px, line.upper_px)))
            * PX_MM
        )
        ** 2
        for line in found
    )
    sd = np.sqrt(spread) / np.sin(np.radians(abs(true_angle))) * reader.at_bone
    reader.note("apex: level", float((crossing - true_crossing) @ along) * reader.mm_per_px, float(sd))


def _crossing(first, second) -> np.ndarray:
    matrix = np.stack([first[1], -second[1]], axis=1)
    share = np.linalg.solve(matrix, second[0] - first[0])
    return first[0] + share[0] * first[1]


def _joints(reader: Reader, marks) -> dict[JointLine, tuple]:
    found = {}
    for kind, medial, lateral in (
        (JointLine.CONDYLES, Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
        (JointLine.PLATEAU, Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
        (JointLine.PLAFOND, Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
    ):
        try:
            found[kind] = find_joint_line(
                reader.plate,
                reader.click(marks[medial]),
                reader.click(marks[lateral]),
                kind=kind,
                blur_mm=reader.blur_mm,
            )
        except LimbwrightError:
            reader.refuse(f"line of the {kind}")
    return found


def _angles(reader: Reader, leg, lines) -> None:
    truth = leg.angles_on_film_deg
    try:
        head = find_head(reader.plate, reader.click(leg.head_circle.centre_px), blur_mm=reader.blur_mm)
    except LimbwrightError:
        reader.refuse("femoral head")
        return
    off = np.array([head.x_px, head.y_px]) - np.array(leg.head_circle.centre_px)
    for error in off * reader.mm_per_px:
        reader.note("femoral head centre", float(error), head.centre_sd_mm * reader.at_bone)
    centre = np.array([head.x_px, head.y_px])
    if len(lines) < 3:
        return
    condyles, plateau, plafond = (
        lines[kind] for kind in (JointLine.CONDYLES, JointLine.PLATEAU, JointLine.PLAFOND)
    )
    knee_f, knee_t, ankle = (np.array(line.middle_px) for line in (condyles, plateau, plafond))

    def toward(line: FoundLine) -> np.ndarray:
        """From the medial to the lateral end."""
        return np.array(line.second_px) - np.array(line.first_px)

    def sd(line: FoundLine, start_sd_mm: float, end_sd_mm: float, axis: np.ndarray) -> float:
        """Of the angle between a line and an axis, from their own uncertainties. [deg]"""
        of_line = np.sqrt(2) * line.sd_mm / np.hypot(*toward(line))
        of_axis = np.hypot(start_sd_mm, end_sd_mm) / np.hypot(*axis)
        return float(np.degrees(np.hypot(of_line, of_axis) / PX_MM))

    femur, tibia = centre - knee_f, ankle - knee_t
    reader.note(
        "mLDFA",
        between_deg(toward(condyles), femur) - truth["mLDFA"],
        sd(condyles, condyles.middle_sd_mm, head.centre_sd_mm, femur),
    )
    reader.note(
        "MPTA",
        between_deg(-toward(plateau), tibia) - truth["MPTA"],
        sd(plateau, plateau.middle_sd_mm, plafond.middle_sd_mm, tibia),
    )
    reader.note(
        "LDTA",
        between_deg(toward(plafond), -tibia) - truth["LDTA"],
        sd(plafond, plateau.middle_sd_mm, plafond.middle_sd_mm, tibia),
    )
    outward = -1.0 if leg.side is Side.RIGHT else 1.0
    hip_ankle = ankle - centre
    across = (hip_ankle[0] * femur[1] - hip_ankle[1] * femur[0]) / np.hypot(*hip_ankle)
    mad = outward * across
    # How far down the axis the knee lies: the ends count by their nearness.
    share = float(-femur @ hip_ankle / (hip_ankle @ hip_ankle))
    mad_sd = np.sqrt(
        condyles.middle_sd_mm**2
        + ((1 - share) * head.centre_sd_mm) ** 2
        + (share * plafond.middle_sd_mm) ** 2
    )
    # The truth's sign: the knee lateral of the line counts as medial deviation.
    reader.note("MAD", (mad - truth["MAD"]) * reader.mm_per_px, float(mad_sd) * reader.at_bone)
