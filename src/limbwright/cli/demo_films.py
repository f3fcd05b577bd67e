"""Films of the invented patients: taken with the phantom, written as DICOM, read back, landmarks laid on."""

import hashlib
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from limbwright.case.case import Case
from limbwright.cli.demo_patients import FILMS_TAKEN_ON, DemoPatient
from limbwright.film.film import (
    CalibrationBall,
    Film,
    FilmWall,
    Mark,
    Provenance,
    ScaleEvidence,
    ViewerSide,
)
from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    FilmHeader,
    LegTruth,
    PhantomFilm,
    WallKind,
    WallTruth,
    XraySetup,
    dicom_bytes,
    standing_films,
)
from limbwright.film.reading.read import read_facts
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface

PIXEL_MM = 0.36
# The patient's front is not marked on a film; the ball's true distance from the bone is known here.
BALL_DEPTH_SD_MM = 10.0


def invented_case(demo: DemoPatient, *, pixel_mm: float | None = None) -> tuple[Case, tuple[bytes, ...]]:
    """An invented patient's case, and the bytes of its films in their order; coarse pixels where asked."""
    taken = films_of(demo, pixel_mm=PIXEL_MM if pixel_mm is None else pixel_mm)
    case = Case(
        id=demo.id,
        invented=True,
        side=demo.side,
        diagnosis=demo.diagnosis,
        patient=demo.patient,
        films=tuple(film for film, _ in taken),
        examination=demo.examination,
        goal=demo.goal,
    )
    return case, tuple(content for _, content in taken)


def films_of(demo: DemoPatient, *, pixel_mm: float) -> tuple[tuple[Film, bytes], ...]:
    """The three standing films of an invented patient, each with its DICOM bytes."""
    taken = standing_films(
        demo.shape,
        seed=demo.seed,
        frontal=_at(FRONTAL_SETUP, pixel_mm),
        sagittal=_at(SAGITTAL_SETUP, pixel_mm),
    )
    named = (
        ("frontal", taken.frontal),
        ("sagittal right", taken.sagittal_right),
        ("sagittal left", taken.sagittal_left),
    )
    return tuple(_film(demo, name, film, number) for number, (name, film) in enumerate(named, start=1))


def _at(setup: XraySetup, pixel_mm: float) -> XraySetup:
    return replace(setup, detector=replace(setup.detector, pixel_mm=pixel_mm))


def _film(demo: DemoPatient, name: str, taken: PhantomFilm, number: int) -> tuple[Film, bytes]:
    header = FilmHeader(
        patient_name=f"Invented^{demo.id.replace('-', ' ').title()}",
        patient_id=demo.patient.id,
        patient_sex="F" if demo.patient.sex is Sex.FEMALE else "M",
        birth_date=demo.patient.birth_date,
        study_date=FILMS_TAKEN_ON,
        instance_number=number,
    )
    content = dicom_bytes(taken, header)
    facts = read_facts(content, name=name).facts
    truth = taken.truth
    ball = truth.balls[0]
    marks = {leg.side: _marks(leg) for leg in truth.legs}
    film = Film(
        name=name,
        file=f"{name.replace(' ', '-')}.dcm",
        sha256=hashlib.sha256(content).hexdigest(),
        projection=truth.projection,
        taken_on=facts.acquisition_date,
        width_px=facts.columns,
        height_px=facts.rows,
        anterior_at=ViewerSide(truth.anterior_at) if truth.projection is Projection.SAGITTAL else None,
        scale=ScaleEvidence(
            ball=CalibrationBall(
                diameter_mm=ball.diameter_mm,
                centre=Mark(x_px=ball.centre_px[0], y_px=ball.centre_px[1], provenance=Provenance.KNOWN),
                radius_px=ball.radius_px,
                radius_sd_px=0.1,
                depth_off_bone_mm=ball.toward_source_mm,
                depth_off_bone_sd_mm=BALL_DEPTH_SD_MM,
            ),
            header=facts.scale,
        ),
        right=marks.get(Side.RIGHT, {}),
        left=marks.get(Side.LEFT, {}),
        walls=tuple(
            edge
            for leg in truth.legs
            for wall in leg.walls
            for edge in _edges(leg.side, wall, truth.projection, truth.anterior_at)
        ),
    )
    return film, content


def _marks(leg: LegTruth) -> dict[Landmark, Mark]:
    """Landmarks as a reader would mark them: a middle shaft line only where a bone bends twice."""
    bent_twice = {str(b) for b in (Bone.FEMUR, Bone.TIBIA) if len(leg.shape.deformities_of(b)) > 1}
    return {
        Landmark(name): Mark(x_px=round(x, 2), y_px=round(y, 2), provenance=Provenance.KNOWN)
        for name, (x, y) in leg.landmarks_px.items()
        if "_middle_shaft_" not in name or name.split("_")[0] in bent_twice
    }


def _edges(
    side: Side, wall: WallTruth, projection: Projection, anterior_at: str
) -> tuple[FilmWall, FilmWall]:
    """Both edges of one piece of shaft, named by the side of the bone they bound."""
    if projection is Projection.FRONTAL:
        # The patient's right leg is at the viewer's left, so its lateral side is at the viewer's left too.
        borders = (Border.LATERAL, Border.MEDIAL) if side is Side.RIGHT else (Border.MEDIAL, Border.LATERAL)
    elif anterior_at == ViewerSide.VIEWER_LEFT:
        borders = (Border.ANTERIOR, Border.POSTERIOR)
    else:
        borders = (Border.POSTERIOR, Border.ANTERIOR)
    surface = Surface.INNER if wall.kind is WallKind.CANAL else Surface.OUTER

    def edge(border: Border, points_px: NDArray[np.float64]) -> FilmWall:
        rounded = np.round(points_px, 2)
        return FilmWall(
            side=side,
            bone=wall.bone,
            surface=surface,
            border=border,
            x_px=tuple(rounded[:, 0].tolist()),
            y_px=tuple(rounded[:, 1].tolist()),
            provenance=Provenance.KNOWN,
        )

    return edge(borders[0], wall.low_px[::4]), edge(borders[1], wall.high_px[::4])
