"""Take phantom films: the two functions most callers need, `take_film` and `standing_films`."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Missing
from limbwright.film.phantom.bones import Detail
from limbwright.film.phantom.exposure import Presentation, exposed
from limbwright.film.phantom.grain import Grain, grains
from limbwright.film.phantom.hardware import Ball, Ruler, Treatment
from limbwright.film.phantom.leg import PatientShape, Stance
from limbwright.film.phantom.materials import Material, attenuation_per_mm
from limbwright.film.phantom.mesh import Mesh, Texture, ball, rod
from limbwright.film.phantom.patient import PosedPatient, posed_patient
from limbwright.film.phantom.ray import Beam, beam_for, paths
from limbwright.film.phantom.setting import XraySetup
from limbwright.film.phantom.texture import broken_up
from limbwright.film.phantom.truth import Truth, ball_place, film_truth
from limbwright.limb.anatomy import Projection, Side

FRONTAL_SETUP = XraySetup()
"""Both legs, hip to ankle."""
SAGITTAL_SETUP = XraySetup(projection=Projection.SAGITTAL, width_mm=286.0)
"""One leg from the side, hip to ankle."""
FRONTAL_BALL = Ball(viewer_right_mm=0.0, below_hip_mm=470.0)
"""Between the knees."""
SAGITTAL_BALL = Ball(viewer_right_mm=0.0, below_hip_mm=470.0)
"""In front of the knee: `take_film` moves it to the side where the leg's front is."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PhantomFilm:
    """A film and everything there is to know about it."""

    picture: NDArray[np.uint16]
    """Pixels, shape (rows, columns), read-only, bright where much was absorbed (MONOCHROME2)."""
    truth: Truth
    """What a perfect reader would find."""
    setup: XraySetup
    """How it was taken."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PhantomFilms:
    """The set a planner asks for: both legs from the front, each leg from the side."""

    frontal: PhantomFilm
    """Both legs; the patient's right leg at the viewer's left."""
    sagittal_right: PhantomFilm
    """Right leg; anterior at the viewer's right."""
    sagittal_left: PhantomFilm
    """Left leg; anterior at the viewer's left."""

    def sagittal(self, side: Side) -> PhantomFilm:
        """The sagittal film of one side."""
        return self.sagittal_right if side is Side.RIGHT else self.sagittal_left


def _scale_meshes(
    balls: tuple[Ball, ...], ruler: Ruler | None, beam: Beam
) -> tuple[list[Mesh], NDArray[np.float64]]:
    """Balls and ruler as meshes, and the ruler's centimetre ticks in the patient frame."""
    steel, plastic = attenuation_per_mm(Material.STEEL), 0.4 * attenuation_per_mm(Material.FAT)
    meshes = [
        ball("ball", ball_place(item, beam), item.diameter_mm, attenuation_per_mm=steel) for item in balls
    ]
    if ruler is None:
        return meshes, np.zeros((0, 3))

    def at(right: float, below: float) -> NDArray[np.float64]:
        return ball_place(
            Ball(viewer_right_mm=right, below_hip_mm=below, toward_source_mm=ruler.toward_source_mm), beam
        )

    x, top = ruler.viewer_right_mm, ruler.below_hip_mm
    meshes.append(
        rod("ruler", at(x, top - 8), at(x, top + ruler.length_mm + 8), 6.0, attenuation_per_mm=plastic)
    )
    ticks = []
    for number in range(int(ruler.length_mm // 10) + 1):
        below = top + 10.0 * number
        half = 10.0 if number % 10 == 0 else 6.0 if number % 5 == 0 else 4.0
        meshes.append(
            rod(
                "ruler tick",
                at(x - half, below),
                at(x + half, below),
                0.8,
                attenuation_per_mm=0.3 * steel,
                around=12,
            )
        )
        ticks.append(at(x, below))
    return meshes, np.stack(ticks)


def _shadow(
    meshes: Iterable[Mesh],
    beam: Beam,
    setup: XraySetup,
    rng: np.random.Generator,
    grain: tuple[Grain, ...] = (),
) -> NDArray[np.float32]:
    """Attenuation along every ray, textures included."""
    every = tuple(meshes)
    shape = (setup.rows, setup.columns)
    total = paths((mesh for mesh in every if mesh.texture is Texture.PLAIN), beam, shape)
    for texture in (Texture.MUSCLE, Texture.SPONGY):
        layer = paths((mesh for mesh in every if mesh.texture is texture), beam, shape)
        if setup.detector.tissue_texture > 0:
            broken_up(layer, texture, setup, rng, grain)
        total += layer
    return total


def film_of_meshes(
    meshes: Iterable[Mesh],
    beam: Beam,
    setup: XraySetup,
    *,
    seed: int,
    grain: tuple[Grain, ...] = (),
    white_at: float | None = None,
) -> tuple[NDArray[np.uint16], Presentation]:
    """Film any closed meshes, for instance scanned bones.

    Parameters
    ----------
    meshes : iterable of Mesh
        Patient frame (x anterior, y up, z to the patient's right, origin midway between the heads), mm.
    beam : Beam
        From `beam_for`.
    setup : XraySetup
        Detector, noise, presentation; the same that `beam` was made for.
    seed : int
        Seed of all noise and texture.
    grain : tuple of Grain
        Patches of film where trabeculae run their own way.
    white_at : float, optional
        As in `take_film`.

    Returns
    -------
    picture : (rows, columns) uint16
        Bright where much was absorbed; read-only.
    presentation : Presentation
        How attenuation became pixel values.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    return exposed(_shadow(meshes, beam, setup, rng, grain), setup, rng, high=white_at)


def take_film(
    patient: PatientShape,
    *,
    seed: int,
    setup: XraySetup = FRONTAL_SETUP,
    side: Side | None = None,
    treatment: Treatment | None = None,
    right_stance: Stance | None = None,
    left_stance: Stance | None = None,
    balls: tuple[Ball, ...] | None = None,
    ruler: Ruler | None = None,
    detail: Detail = Detail.FINE,
    white_at: float | None = None,
) -> PhantomFilm:
    """Take one film of a phantom patient.

    Parameters
    ----------
    patient : PatientShape
        Both legs.
    seed : int
        Seed of all noise and texture; the same seed and values give the same film.
    setup : XraySetup
        Projection, distances, detector.
    side : Side, optional
        The leg in the beam; required for a sagittal film, ignored on a frontal one.
    treatment : Treatment, optional
        Osteotomies, gaps, new bone, nails, screws.
    right_stance, left_stance : Stance, optional
        How each leg is held; patella forward unless given.
    balls : tuple of Ball, optional
        Calibration balls; one of 25 mm in the plane of the bones unless given.
    ruler : Ruler, optional
        Ruler with metal ticks.
    detail : Detail
        How finely bones are meshed; coarse is for tests.
    white_at : float, optional
        Attenuation shown as white; chosen from the film itself unless given. Follow-up films share it.

    Raises
    ------
    Missing
        If a sagittal film is asked for without a side.
    """
    sagittal = setup.projection is Projection.SAGITTAL
    if sagittal and side is None:
        raise Missing(
            "no side was given.",
            where="sagittal phantom film",
            next_step="Say which leg is in the beam: one leg is filmed from the side at a time.",
        )
    posed = posed_patient(
        patient,
        treatment or Treatment(),
        (right_stance or Stance(), left_stance or Stance()),
        side if sagittal else None,
        detail,
    )
    beam = beam_for(setup, side, patient.hip_distance_mm)
    shown = (_default_ball(posed, beam),) if balls is None else balls
    scale, ticks = _scale_meshes(shown, ruler, beam)
    picture, presentation = film_of_meshes(
        (*posed.meshes, *scale), beam, setup, seed=seed, grain=grains(posed, beam), white_at=white_at
    )
    return PhantomFilm(
        picture=picture,
        truth=film_truth(posed, beam, setup, presentation, balls=shown, ticks=ticks),
        setup=setup,
    )


def _default_ball(posed: PosedPatient, beam: Beam) -> Ball:
    """A ball where a radiographer puts it: between the knees, or in front of the knee."""
    knees = np.stack([places["femur_knee_centre"] for places in posed.landmarks])
    below = float(-knees[:, 1].mean()) + 25.0
    if beam.projection is Projection.FRONTAL:
        return replace(FRONTAL_BALL, below_hip_mm=below)
    hand = 1.0 if beam.side is Side.RIGHT else -1.0
    front = (
        float(knees[0, 0]) + 78.0 * posed.legs[0].shape.soft_tissue * posed.legs[0].shape.bone_width + 12.5
    )
    return replace(SAGITTAL_BALL, viewer_right_mm=hand * front, below_hip_mm=below)


def standing_films(
    patient: PatientShape,
    *,
    seed: int,
    treatment: Treatment | None = None,
    right_stance: Stance | None = None,
    left_stance: Stance | None = None,
    frontal: XraySetup = FRONTAL_SETUP,
    sagittal: XraySetup = SAGITTAL_SETUP,
    detail: Detail = Detail.FINE,
) -> PhantomFilms:
    """Take the whole set of one patient: both legs from the front, each leg from the side.

    Parameters are those of `take_film`; each film gets its own noise from `seed`.
    """

    def take(number: int, setup: XraySetup, side: Side | None) -> PhantomFilm:
        return take_film(
            patient,
            seed=seed * 10 + number,
            setup=setup,
            side=side,
            treatment=treatment,
            right_stance=right_stance,
            left_stance=left_stance,
            detail=detail,
        )

    return PhantomFilms(
        frontal=take(0, frontal, None),
        sagittal_right=take(1, sagittal, Side.RIGHT),
        sagittal_left=take(2, sagittal, Side.LEFT),
    )
