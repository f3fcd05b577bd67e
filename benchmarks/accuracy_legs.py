"""Random phantom patients and what assisted reading finds on them, against projected truth."""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import LimbwrightError
from limbwright.film import phantom
from limbwright.film.new_bone import Development, measure_new_bone
from limbwright.film.phantom import WallKind
from limbwright.film.register import Patch, fragment_motion
from limbwright.film.snap import JointLine, find_ball, find_head, find_joint_line
from limbwright.film.tracing import Plate, ShaftTrace, shaft_line, trace_shaft, width_curve
from limbwright.limb.anatomy import Bone, Side
from limbwright.limb.landmark import Landmark

PX_MM = 0.143
CLICK_MM = 4.0
LEAST_SUPPORT = 0.6
"""Support below which a trace says that it is a poor proposal; such are counted, not measured."""


@dataclass(frozen=True)
class Reading:
    """One error, in the unit of its quantity, and the standard uncertainty that was stated."""

    quantity: str
    error: float
    sd: float | None


def generator(*numbers: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(list(numbers)))


def random_leg(rng: np.random.Generator, bend: bool) -> phantom.LegShape:
    width = rng.uniform(0.85, 1.1)

    def shaft(sections):
        return tuple(
            phantom.ShaftSection(
                level=s.level,
                outer_mediolateral_mm=s.outer_mediolateral_mm * width,
                outer_anteroposterior_mm=s.outer_anteroposterior_mm * width,
                canal_mediolateral_mm=s.canal_mediolateral_mm * width * stretch,
                canal_anteroposterior_mm=s.canal_anteroposterior_mm * width * stretch,
            )
            for s in sections
        )

    stretch = rng.uniform(0.9, 1.15)
    plain = phantom.LegShape()
    deformities = ()
    if bend:
        size = rng.uniform(8.0, 20.0) * rng.choice([-1, 1])
        deformities = (phantom.Angulation(bone=Bone.TIBIA, level=rng.uniform(0.45, 0.65), varus_deg=size),)
    return phantom.LegShape(
        femur_length_mm=rng.uniform(390, 470),
        tibia_length_mm=rng.uniform(320, 400),
        mldfa_deg=rng.normal(88, 3),
        mpta_deg=rng.normal(87, 3),
        ldta_deg=rng.normal(89, 3),
        mlpfa_deg=rng.normal(90, 3),
        ppta_deg=rng.normal(81, 2),
        jlca_deg=rng.uniform(0, 2),
        femoral_bow_radius_mm=rng.uniform(850, 1500),
        head_radius_mm=rng.uniform(21, 26.5),
        anteversion_deg=rng.uniform(5, 20),
        bone_width=width,
        soft_tissue=rng.uniform(0.85, 1.25),
        femur_shaft=shaft(plain.femur_shaft),
        tibia_shaft=shaft(plain.tibia_shaft),
        deformities=deformities,
    )


def random_detector(rng: np.random.Generator) -> phantom.Detector:
    return phantom.Detector(
        photons_per_mm2=float(np.exp(rng.uniform(np.log(5e5), np.log(4e6)))),
        blur_mm=rng.uniform(0.07, 0.14),
        focal_spot_mm=rng.uniform(0.6, 1.2),
        scatter_fraction=rng.uniform(0.05, 0.15),
        heel_effect=rng.uniform(0.0, 0.12),
        curve_power=rng.uniform(0.75, 1.0),
    )


class Reader:
    """Someone who clicks 4 mm off on one film."""

    def __init__(
        self, film: phantom.PhantomFilm, rng: np.random.Generator, stance: phantom.Stance | None = None
    ) -> None:
        self.film, self.rng, self.stance = film, rng, stance
        self.plate = Plate(grey=film.picture, row_mm=PX_MM, column_mm=PX_MM)
        self.mm_per_px = 1.0 / film.truth.px_per_mm_at_bone
        self.at_bone = self.mm_per_px / PX_MM
        self.readings: list[Reading] = []
        self.refused: list[str] = []
        self.blur_mm, self.blur_sd_mm = 0.1, 0.04

    def click(self, at) -> tuple[float, float]:
        turn = self.rng.uniform(0, 2 * np.pi)
        reach = CLICK_MM / self.mm_per_px
        return float(at[0] + reach * np.cos(turn)), float(at[1] + reach * np.sin(turn))

    def note(self, quantity: str, error: float, sd: float | None) -> None:
        if np.isfinite(error):
            self.readings.append(Reading(quantity, float(error), sd))

    def ball(self) -> None:
        truth = self.film.truth.balls[0]
        try:
            found = find_ball(self.plate, self.click(truth.centre_px), diameter_mm=truth.diameter_mm)
        except LimbwrightError:
            self.refused.append("ball")
            return
        self.note(
            "scale from the ball",
            100 * (found.radius_px / truth.radius_px - 1),
            100 * found.radius_sd_px / found.radius_px,
        )
        if found.blur_mm is not None:
            self.blur_mm, self.blur_sd_mm = found.blur_mm, found.blur_sd_mm or 0.04

    def trace(self, axis_px) -> ShaftTrace | None:
        clicks = tuple(self.click(axis_px[i]) for i in (3, len(axis_px) // 2, len(axis_px) - 4))
        try:
            trace = trace_shaft(self.plate, clicks, blur_mm=self.blur_mm, blur_sd_mm=self.blur_sd_mm)
        except LimbwrightError:
            self.refused.append("trace of a shaft")
            return None
        if trace.support < LEAST_SUPPORT:
            self.refused.append("trace of a shaft")
            return None
        return trace

    def walls(self, trace: ShaftTrace, outer, canal, *, nailed: bool, from_share: float = 0.0) -> None:
        skip = round(from_share * len(outer.axis_px))
        true = {
            kind: [_offsets(trace, points[skip:]) for points in (wall.low_px, wall.high_px)]
            for kind, wall in ((WallKind.OUTER, outer), (WallKind.CANAL, canal))
        }
        if not nailed:
            for edge, at in zip(trace.outer, true[WallKind.OUTER], strict=True):
                error = (edge.offset_mm - at) * self.at_bone
                for row in np.flatnonzero(np.isfinite(error))[::7]:
                    self.note("outer cortex", error[row], edge.sd_mm[row] * self.at_bone)
        curve = width_curve(trace, trace.inner)
        error = (curve.width_mm - (true[WallKind.CANAL][1] - true[WallKind.CANAL][0])) * self.at_bone
        beside = np.zeros(len(error), bool)
        if trace.nail is not None:
            beside = np.isfinite(trace.nail.left_mm)
        for row in np.flatnonzero(np.isfinite(error))[::7]:
            name = "canal width beside a nail" if beside[row] else "canal width"
            self.note(name, error[row], curve.sd_mm[row] * self.at_bone)


def _offsets(trace: ShaftTrace, points_px) -> np.ndarray:
    """Offsets of true wall points at the depths of a trace."""
    guide = trace.guide
    points = np.asarray(points_px) * np.array([trace.column_mm, trace.row_mm])
    near = np.argmin(np.hypot(guide.x_mm[:, None] - points[:, 0], guide.y_mm[:, None] - points[:, 1]), axis=0)
    away_x, away_y = points[:, 0] - guide.x_mm[near], points[:, 1] - guide.y_mm[near]
    offset = away_x * guide.normal_x[near] + away_y * guide.normal_y[near]
    depth = guide.depth_mm[near] - away_x * guide.normal_y[near] + away_y * guide.normal_x[near]
    order = np.argsort(depth)
    return np.interp(trace.depth_mm, depth[order], offset[order], left=np.nan, right=np.nan)


def _direction_deg(points) -> float:
    fit = np.polyfit(points[:, 1], points[:, 0], 1)
    return float(np.degrees(np.arctan(fit[0])))


def _between_deg(first, second) -> float:
    cross = first[0] * second[1] - first[1] * second[0]
    return float(np.degrees(np.arctan2(abs(cross), first @ second)))


def standing_patient(number: int) -> tuple[list[Reading], list[str]]:
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
    film = phantom.take_film(
        patient,
        seed=number,
        setup=setup,
        right_stance=stances[0],
        left_stance=stances[1],
        balls=(ball,),
    )
    reader = Reader(film, rng)
    reader.ball()
    for leg in film.truth.legs:
        _standing_leg(reader, leg)
    return reader.readings, reader.refused


def _standing_leg(reader: Reader, leg) -> None:
    marks = {name: np.array(at) for name, at in leg.landmarks_px.items()}
    lines = _joints(reader, leg, marks)
    _angles(reader, leg, marks, lines)
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
            top = max(0.0, (0.32 - level[0]) / (level[1] - level[0])) if bone is Bone.TIBIA else 0.0
            if top < 0.8:
                reader.walls(trace, outer, canal, nailed=False, from_share=top)
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
        reader.refused.append("shaft line")
        return
    keep = (middle[:, 1] >= line.upper_px[1]) & (middle[:, 1] <= line.lower_px[1])
    if keep.sum() < 10:
        return
    error = line.direction_deg - _direction_deg(middle[keep])
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
        reader.refused.append("shaft line")
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


def _joints(reader: Reader, leg, marks) -> dict[JointLine, tuple]:
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
            reader.refused.append(f"line of the {kind}")
    return found


def _angles(reader: Reader, leg, marks, lines) -> None:
    truth = leg.angles_on_film_deg
    try:
        head = find_head(reader.plate, reader.click(leg.head_circle.centre_px), blur_mm=reader.blur_mm)
    except LimbwrightError:
        reader.refused.append("femoral head")
        return
    off = np.array([head.x_px, head.y_px]) - np.array(leg.head_circle.centre_px)
    for error in off * reader.mm_per_px:
        reader.note("femoral head centre", float(error), head.centre_sd_mm * reader.at_bone)
    centre = np.array([head.x_px, head.y_px])
    if len(lines) < 3:
        return
    knee_f, knee_t, ankle = (
        np.array(lines[kind].middle_px) for kind in (JointLine.CONDYLES, JointLine.PLATEAU, JointLine.PLAFOND)
    )

    def toward(kind: JointLine) -> np.ndarray:
        """From the medial to the lateral end."""
        return np.array(lines[kind].second_px) - np.array(lines[kind].first_px)

    def sd(kind: JointLine) -> float:
        length = np.hypot(*toward(kind)) * PX_MM
        return float(np.degrees(np.hypot(np.sqrt(2) * lines[kind].sd_mm / length, 1.0 / 350)))

    reader.note(
        "mLDFA",
        _between_deg(toward(JointLine.CONDYLES), centre - knee_f) - truth["mLDFA"],
        sd(JointLine.CONDYLES),
    )
    reader.note(
        "MPTA",
        _between_deg(-toward(JointLine.PLATEAU), ankle - knee_t) - truth["MPTA"],
        sd(JointLine.PLATEAU),
    )
    reader.note(
        "LDTA", _between_deg(toward(JointLine.PLAFOND), knee_t - ankle) - truth["LDTA"], sd(JointLine.PLAFOND)
    )
    outward = -1.0 if leg.side is Side.RIGHT else 1.0
    hip_ankle = ankle - centre
    femur = knee_f - centre
    across = (femur[0] * hip_ankle[1] - femur[1] * hip_ankle[0]) / np.hypot(*hip_ankle)
    mad = outward * across
    # The truth's sign: the knee lateral of the line counts as medial deviation.
    reader.note("MAD", (mad - truth["MAD"]) * reader.mm_per_px, 1.1)


def followed_patient(number: int) -> tuple[list[Reading], list[str]]:
    """One tibia of a patient in the middle of a lengthening, two films, with and without a nail."""
    rng = generator(2, number)
    leg = random_leg(rng, bend=False)
    patient = phantom.PatientShape(right=leg, left=leg)
    nailed = bool(rng.random() < 0.6)
    level = rng.uniform(0.36, 0.45)
    density, gaps = rng.uniform(0.15, 0.7), (rng.uniform(6, 20), rng.uniform(22, 45))
    varus = rng.uniform(-4, 4)
    canal = min(s.canal_mediolateral_mm for s in leg.tibia_shaft)
    thick = float(np.clip(canal - 0.8, 7.5, 11.0))
    nail = phantom.Nail(
        bone=Bone.TIBIA,
        length_mm=0.72 * leg.tibia_length_mm,
        thick_length_mm=0.5 * leg.tibia_length_mm,
        thick_mm=thick,
        thin_mm=thick - 2.2,
    )
    screws = tuple(phantom.Screw(bone=Bone.TIBIA, level=at) for at in (0.1, 0.84))

    def treated(gap: float, angle: float) -> phantom.Treatment:
        return phantom.Treatment(
            right=phantom.Hardware(
                lengthenings=(
                    phantom.Lengthening(
                        bone=Bone.TIBIA,
                        level=level,
                        gap_mm=gap,
                        varus_deg=angle,
                        regenerate=phantom.Regenerate(density=density, interzone=0.1),
                    ),
                ),
                nails=(nail,) if nailed else (),
                screws=screws if nailed else (),
            )
        )

    detector = random_detector(rng)
    top = 30.0 - leg.femur_length_mm
    setup = phantom.XraySetup(
        height_mm=(leg.tibia_length_mm + 150.0), top_above_hip_mm=top, width_mm=300.0, detector=detector
    )
    readers, truths = [], []
    for index, (gap, angle) in enumerate(((gaps[0], 0.0), (gaps[1], varus))):
        stance = phantom.Stance(rotation_deg=rng.uniform(-4, 4), ankle_offset_mm=rng.uniform(60, 90))
        film = phantom.take_film(
            patient,
            seed=10 * number + index,
            setup=setup,
            treatment=treated(gap, angle),
            right_stance=stance,
        )
        readers.append(Reader(film, rng, stance))
        truths.append(film.truth.leg(Side.RIGHT))
    _follow(readers, truths, treated(gaps[1], varus), patient, setup)
    every = readers[0].readings + readers[1].readings
    return every, readers[0].refused + readers[1].refused


def _pieces(leg):
    levels = sorted({wall.level for wall in leg.walls if wall.bone is Bone.TIBIA})
    return [
        tuple(
            next(w for w in leg.walls if w.bone is Bone.TIBIA and w.level == level and w.kind is kind)
            for kind in WallKind
        )
        for level in levels
    ]


def _follow(readers, truths, treatment, patient, setup) -> None:
    pieces = [_pieces(leg) for leg in truths]
    if min(len(p) for p in pieces) < 2:
        return
    traces = []
    for reader, parts in zip(readers, pieces, strict=True):
        own = [reader.trace(outer.axis_px) for outer, _ in parts]
        traces.append(own)
        for trace, (outer, canal) in zip(own, parts, strict=True):
            if trace is not None:
                skip = 0.0 if outer is parts[1][0] else 0.5
                reader.walls(trace, outer, canal, nailed=True, from_share=skip)
    if any(trace is None for own in traces for trace in own):
        return
    _moved(readers, truths, pieces, traces)
    _density(
        readers[1],
        truths[1],
        pieces[1],
        traces[1],
        treatment=treatment,
        patient=patient,
        setup=setup,
    )


def _rigid(first, second):
    one, two = first[-1] - first[0], second[-1] - second[0]
    turn = np.arctan2(two[1], two[0]) - np.arctan2(one[1], one[0])
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return matrix, 0.5 * (first[0] + first[-1]), 0.5 * (second[0] + second[-1]), turn


def _moved(readers, truths, pieces, traces) -> None:
    reader = readers[1]
    ends = [
        (
            np.array([leg.landmarks_px[Landmark.TIBIA_KNEE_CENTRE], parts[0][0].axis_px[-1]]),
            np.array([parts[1][0].axis_px[0], leg.landmarks_px[Landmark.ANKLE_CENTRE]]),
        )
        for leg, parts in zip(truths, pieces, strict=True)
    ]
    patches = [
        Patch(
            centre_px=tuple(0.5 * (a[0] + a[1])),
            along_px=tuple(a[1]),
            length_mm=float(np.hypot(*(a[1] - a[0]))) * PX_MM + 6,
            width_mm=70.0,
        )
        for a in ends[0]
    ]
    axis = pieces[0][1][0].axis_px
    along = (axis[-1] - axis[0]) / np.hypot(*(axis[-1] - axis[0]))
    cut = axis[0] - along * 12.0 / readers[0].mm_per_px
    try:
        lines = [tuple(shaft_line(trace) for trace in own) for own in traces]
        motion = fragment_motion(
            readers[0].plate,
            reader.plate,
            proximal=patches[0],
            distal=patches[1],
            proximal_guess_px=reader.click(0.5 * (ends[1][0][0] + ends[1][0][1])),
            distal_guess_px=reader.click(0.5 * (ends[1][1][0] + ends[1][1][1])),
            cut_px=(float(cut[0]), float(cut[1])),
            earlier_lines=lines[0],
            later_lines=lines[1],
        )
    except LimbwrightError:
        reader.refused.append("registration")
        return
    motions = [
        _rigid(p.axis_px, q.axis_px) for p, q in zip(*[[o for o, _ in x] for x in pieces], strict=True)
    ]
    (m1, a1, b1, t1), (m2, a2, b2, t2) = motions
    true_turn = np.degrees(t1 - t2)
    back = a1 + m1.T @ (b2 + m2 @ (cut - a2) - b1)
    upper = pieces[0][0][0].axis_px
    down = (upper[-1] - upper[0]) / np.hypot(*(upper[-1] - upper[0]))
    true_gain = float((back - cut) @ down) * reader.mm_per_px
    turn, gained = motion.toward_viewer_right, motion.gained
    reader.note("fragment angulation since last film", turn.value - true_turn, turn.sd)
    reader.note(
        "gained length since last film", gained.value * reader.at_bone - true_gain, gained.sd * reader.at_bone
    )


def _density(reader, leg, parts, traces, *, treatment, patient, setup) -> None:
    upper, lower = parts[0][0].axis_px, parts[1][0].axis_px
    gap = []
    for near, far in ((upper[-1], upper[0]), (lower[0], lower[-1])):
        way = (near - far) / np.hypot(*(near - far))
        gap.append(near + way * 0.035 * leg.shape.tibia_length_mm / reader.mm_per_px)
    clean = phantom.Detector(
        photons_per_mm2=0,
        electronic_noise=0,
        scatter_fraction=0,
        heel_effect=0,
        tissue_texture=0,
        curve_power=1.0,
    )
    film = phantom.take_film(
        patient,
        seed=0,
        setup=replace(setup, detector=clean),
        treatment=treatment,
        right_stance=reader.stance,
    )
    perfect = Reader(film, reader.rng)
    true = _measured(perfect, traces, gap, click=False)
    found = _measured(reader, traces, gap, click=True)
    if found is None or true is None:
        return
    for ours, theirs in (
        (found.viewer_left, true.viewer_left),
        (found.viewer_right, true.viewer_right),
        (found.whole, true.whole),
    ):
        reader.note(
            "attenuation ratio of new bone",
            ours.attenuation_ratio.value - theirs.attenuation_ratio.value,
            ours.attenuation_ratio.sd,
        )


def _measured(reader, traces, gap, *, click: bool):
    shown = reader.film.truth.presentation
    try:
        return measure_new_bone(
            reader.plate,
            traces[0],
            traces[1],
            tuple(reader.click(at) if click else (float(at[0]), float(at[1])) for at in gap),
            development=Development(low=shown.low, high=shown.high, power=shown.power, white=shown.white),
        )
    except LimbwrightError:
        reader.refused.append("new bone")
        return None
