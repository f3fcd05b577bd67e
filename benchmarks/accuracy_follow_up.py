"""Follow-up films of a tibia in lengthening: walls beside a nail, registration, new bone."""

from dataclasses import replace

import numpy as np

from accuracy_films import FilmShelf, generator, random_detector, random_leg
from accuracy_reader import PX_MM, Part, Reader, Reading
from limbwright.error import LimbwrightError
from limbwright.film import phantom
from limbwright.film.new_bone import USUAL_SHARE, Development, measure_new_bone
from limbwright.film.phantom import WallKind
from limbwright.film.register import Patch, fragment_motion
from limbwright.film.tracing import shaft_line
from limbwright.limb.anatomy import Bone, Side
from limbwright.limb.landmark import Landmark


def followed_patient(
    number: int, parts: frozenset[Part], shelf: FilmShelf
) -> tuple[list[Reading], list[str]]:
    """One tibia of a patient in the middle of a lengthening, two films, with and without a nail."""
    rng = generator(2, number)
    leg = random_leg(rng, bend=False)
    patient = phantom.PatientShape(right=leg, left=leg)
    nailed = bool(rng.random() < 0.6)
    level = rng.uniform(0.36, 0.45)
    density, gaps = rng.uniform(0.15, 0.7), (rng.uniform(6, 20), rng.uniform(22, 45))
    # A nail in its canal lets a fragment turn by little more than a degree.
    varus = rng.uniform(-1.2, 1.2) if nailed else rng.uniform(-4, 4)
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
        film = shelf.film(
            f"follow-up-{number}-{index}",
            patient,
            seed=10 * number + index,
            setup=setup,
            treatment=treated(gap, angle),
            right_stance=stance,
        )
        readers.append(Reader(film, (4, number, index), parts, stance))
        truths.append(film.truth.leg(Side.RIGHT))

    def noiseless() -> phantom.PhantomFilm:
        """The later film without anything between attenuation and grey."""
        clean = phantom.Detector(
            photons_per_mm2=0,
            electronic_noise=0,
            scatter_fraction=0,
            heel_effect=0,
            tissue_texture=0,
            curve_power=1.0,
        )
        return shelf.film(
            f"follow-up-{number}-noiseless",
            patient,
            seed=0,
            setup=replace(setup, detector=clean),
            treatment=treated(gaps[1], varus),
            right_stance=readers[1].stance,
        )

    _follow(readers, truths, noiseless)
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


def _follow(readers, truths, noiseless) -> None:
    pieces = [_pieces(leg) for leg in truths]
    if min(len(p) for p in pieces) < 2:
        return
    traces = []
    for reader, parts in zip(readers, pieces, strict=True):
        reader.begin(Part.WALLS)
        own = [reader.trace(outer.axis_px) for outer, _ in parts]
        traces.append(own)
        for trace, (outer, canal) in zip(own, parts, strict=True):
            if trace is not None:
                skip = 0.0 if outer is parts[1][0] else 0.5
                reader.walls(trace, outer, canal, nailed=True, from_share=skip)
    if any(trace is None for own in traces for trace in own):
        return
    if Part.REGISTER in readers[1].parts:
        readers[1].begin(Part.REGISTER)
        _moved(readers, truths, pieces, traces)
    if Part.NEW_BONE in readers[1].parts:
        readers[1].begin(Part.NEW_BONE)
        _density(readers[1], truths[1], pieces[1], traces[1], noiseless())


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
        reader.refuse("registration")
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


def _density(reader, leg, parts, traces, film) -> None:
    upper, lower = parts[0][0].axis_px, parts[1][0].axis_px
    gap = []
    for near, far in ((upper[-1], upper[0]), (lower[0], lower[-1])):
        way = (near - far) / np.hypot(*(near - far))
        gap.append(near + way * 0.035 * leg.shape.tibia_length_mm / reader.mm_per_px)
    perfect = Reader(film, (5,), reader.parts)
    perfect.begin(Part.NEW_BONE)
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
            scatter=USUAL_SHARE if click else (0.0, 0.0),
        )
    except LimbwrightError:
        reader.refuse("new bone")
        return None
