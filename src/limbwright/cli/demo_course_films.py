"""Follow-up films of the invented courses: taken with the phantom, written as DICOM, read back with help.

Every film is clicked as a reader in a hurry would, up to two millimetres off, and what the program then reads
goes into the visit in place of the number the phantom was set to.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache

import numpy as np

from limbwright.case.case import Case
from limbwright.cli.demo_courses import OPERATED_ON, DemoCourse, DemoVisit
from limbwright.course.assisted import AssistedFilm, assisted_film
from limbwright.course.film_clicks import FilmClicks, Point
from limbwright.course.recorded import film_readings, with_marks, with_readings
from limbwright.course.schedule import first_step_day
from limbwright.course.visit import Visit
from limbwright.film.film import Film, ScaleEvidence, ViewerSide
from limbwright.film.new_bone import development_of
from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    Detail,
    Detector,
    FilmDay,
    FilmHeader,
    FollowUp,
    Hardware,
    LegTruth,
    Lengthening,
    PatientShape,
    PhantomFilm,
    Positioning,
    Regenerate,
    Screw,
    XraySetup,
    dicom_bytes,
    lengthening_series,
)
from limbwright.film.phantom import Nail as PhantomNail
from limbwright.film.reading import read_facts, read_picture
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.practice.profile import Profile

FIRST_DAY = 1
"""Day of the first films, which the later ones are compared with."""
PIXEL_MM = 0.4
CUT_LEVEL = 0.30
TOP_BELOW_HIP_MM = 405.0
HEIGHT_MM = 500.0
LEG_WIDTH_MM = 190.0
DARK = 1.5
"""Power of the films' presentation, which shows soft tissue dark."""
PHOTONS_PER_MM2 = 2.0e7
HURRIED_SD_MM = 0.5
PROXIMAL_MM, DISTAL_MM = 48.0, 95.0
"""Lengths of the stretches that tell the axes of the fragments, from the osteotomy."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenFilm:
    """A follow-up film of an invented course."""

    film: Film
    """As the case holds it."""
    content: bytes
    """The DICOM file."""
    clicks: FilmClicks
    """Where a reader in a hurry clicks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmedCourse:
    """An invented course with its films, read back."""

    case: Case
    """Films and visits; nothing in it was typed but the clinical findings."""
    films: tuple[TakenFilm, ...]
    """In the order of their days, frontal before sagittal."""


@cache
def filmed_course(demo: DemoCourse, profile: Profile, nail: Nail) -> FilmedCourse:
    """Take the films of a course, read them, and put the readings into its visits."""
    case = demo.case(profile, nail)
    course = case.course
    assert course is not None
    first_step_on = first_step_day(course.treatments[0].days()).on
    films: list[TakenFilm] = []
    visits: list[Visit] = []
    bare = (Visit(seen_on=OPERATED_ON + timedelta(days=FIRST_DAY)), *(_examined(v) for v in course.visits))
    for examined, (frontal, sagittal) in zip(bare, _pairs(demo, nail), strict=True):
        films += (frontal, sagittal)
        marked = with_marks(with_marks(examined, read_back(frontal, nail)), read_back(sagittal, nail))
        readings = film_readings(
            marked, tuple(visits), Bone.TIBIA, nail, profile, first_step_on=first_step_on
        )
        visits.append(with_readings(marked, Bone.TIBIA, readings))
    return FilmedCourse(
        case=replace(
            case,
            films=tuple(taken.film for taken in films),
            course=replace(course, visits=tuple(visits)),
        ),
        films=tuple(films),
    )


def read_back(taken: TakenFilm, nail: Nail) -> AssistedFilm:
    """What the program reads on a film from the reader's clicks."""
    read = read_picture(taken.content, name=taken.film.name)
    return assisted_film(
        read.picture.values.astype(np.float32),
        taken.clicks,
        nail,
        development=development_of(read.picture),
        white=float(2**read.picture.bits_stored - 1),
    )


def _examined(visit: Visit) -> Visit:
    """The visit without what its films will say; texture is the reader's own word."""
    new_bone = tuple(
        replace(n, cortices=(), width_ratio=None, width_ratio_sd=None, shape=None) for n in visit.new_bone
    )
    return replace(visit, gained=(), alignment=(), fibula=None, new_bone=new_bone)


def _pairs(demo: DemoCourse, nail: Nail) -> Iterator[tuple[TakenFilm, TakenFilm]]:
    """Both films of every visit, the first ones of day 1 before them."""
    series = lengthening_series(
        PatientShape(),
        side=Side.LEFT,
        bone=Bone.TIBIA,
        hardware=_hardware(nail),
        days=(FilmDay(day=FIRST_DAY, gap_mm=0.0), *(_found(v) for v in demo.visits)),
        seed=sum(map(ord, demo.id)),
        positioning=Positioning(rotation_deg=1.0, knee_flexion_deg=0.5),
        frontal=_lower_leg(FRONTAL_SETUP, FRONTAL_SETUP.width_mm),
        sagittal=_lower_leg(SAGITTAL_SETUP, LEG_WIDTH_MM + 20.0),
        regenerate=Regenerate(interzone=0.0),
        detail=Detail.COARSE,
    )
    for follow_up in series:
        yield _film(demo, follow_up, Projection.FRONTAL), _film(demo, follow_up, Projection.SAGITTAL)


def _found(visit: DemoVisit) -> FilmDay:
    return FilmDay(
        day=visit.day,
        gap_mm=visit.gained_mm,
        varus_deg=visit.varus_deg,
        procurvatum_deg=visit.procurvatum_deg,
        density=_density(sorted(visit.ratios)[1]),
    )


def _density(ratio: float) -> float:
    """Density of new bone that shows as a pixel value ratio on these films, with soft tissue about it."""
    soft = 0.745  # share of a cortex's attenuation that the soft tissue before and behind it makes
    return float(np.clip((ratio ** (1.0 / DARK) - soft) / (1.0 - soft), 0.02, 1.0))


def _hardware(nail: Nail) -> Hardware:
    tibia = Bone.TIBIA
    return Hardware(
        lengthenings=(Lengthening(bone=tibia, level=CUT_LEVEL),),
        nails=(
            PhantomNail(
                bone=tibia,
                length_mm=nail.length_mm,
                thick_mm=nail.thick_diameter_mm,
                thin_mm=nail.thin_diameter_mm,
                thick_length_mm=nail.thick_length_mm,
                bend_deg=nail.bend_deg,
                bend_depth_mm=nail.bend_depth_mm or 50.0,
            ),
        ),
        screws=(Screw(bone=tibia, level=0.09), Screw(bone=tibia, level=0.82)),
    )


def _lower_leg(setup: XraySetup, width_mm: float) -> XraySetup:
    return replace(
        setup,
        width_mm=width_mm,
        height_mm=HEIGHT_MM,
        top_above_hip_mm=-TOP_BELOW_HIP_MM,
        detector=Detector(pixel_mm=PIXEL_MM, curve_power=DARK, photons_per_mm2=PHOTONS_PER_MM2),
    )


def _film(demo: DemoCourse, follow_up: FollowUp, projection: Projection) -> TakenFilm:
    frontal = projection is Projection.FRONTAL
    taken = follow_up.frontal if frontal else follow_up.sagittal
    first = 0
    if frontal:  # collimated to the treated leg, at the viewer's right
        knee_px = taken.truth.leg(Side.LEFT).landmarks_px[Landmark.TIBIA_KNEE_CENTRE][0]
        first = int(knee_px - 0.55 * LEG_WIDTH_MM / PIXEL_MM)
        last = int(knee_px + 0.45 * LEG_WIDTH_MM / PIXEL_MM)
        taken = replace(taken, picture=taken.picture[:, first:last])
    day = follow_up.found.day
    name = f"day {day} {projection}"
    on = OPERATED_ON + timedelta(days=day)
    content = _dicom(demo, taken, on, frontal=frontal)
    facts = read_facts(content, name=name).facts
    across_to = ViewerSide.VIEWER_RIGHT if frontal else ViewerSide(taken.truth.anterior_at)
    film = Film(
        name=name,
        file=f"{name.replace(' ', '-')}.dcm",
        sha256=hashlib.sha256(content).hexdigest(),
        projection=projection,
        taken_on=on,
        width_px=facts.columns,
        height_px=facts.rows,
        standing=False,
        anterior_at=None if frontal else across_to,
        scale=ScaleEvidence(header=facts.scale),
    )
    rng = np.random.Generator(np.random.PCG64([sum(map(ord, demo.id)), day, int(frontal)]))
    truth = taken.truth.leg(Side.LEFT)
    clicks = _clicks(truth, film, across_to, rng, first_column=first)
    return TakenFilm(film=film, content=content, clicks=clicks)


def _dicom(demo: DemoCourse, taken: PhantomFilm, on: date, *, frontal: bool) -> bytes:
    header = FilmHeader(
        patient_name=f"Invented^{demo.id.replace('-', ' ').title()}",
        patient_id=f"INVENTED-{demo.id[-1].upper()}",
        patient_sex="F",
        study_date=on,
        instance_number=1 if frontal else 2,
    )
    return dicom_bytes(taken, header)


def _clicks(
    truth: LegTruth, film: Film, across_to: ViewerSide, rng: np.random.Generator, *, first_column: int
) -> FilmClicks:
    """Clicks about the true places; the axes of the fragments over fixed stretches beside the osteotomy."""
    nail, gap, at = truth.nails[0], truth.gaps[0], truth.landmarks_px
    thick, rod = nail.thick_axis_px, nail.rod_axis_px
    px_per_mm = nail.thick_px / nail.thick_mm
    upper, lower = np.array(gap.upper_px), np.array(gap.lower_px)
    up = _way(thick[-1], thick[len(thick) // 2])  # along the straight part of the nail, below its bend
    down = _way(lower, np.array(at[Landmark.ANKLE_CENTRE]))
    frontal = film.projection is Projection.FRONTAL

    def click(place: np.ndarray | Point) -> Point:
        moved = np.asarray(place) + rng.normal(size=2) * HURRIED_SD_MM * px_per_mm
        return round(float(moved[0]) - first_column, 1), round(float(moved[1]), 1)

    return FilmClicks(
        film=film.name,
        bone=Bone.TIBIA,
        projection=film.projection,
        across_to=across_to,
        nail_thick_end=click(thick[0]),
        nail_junction=click(thick[-1]),
        nail_thin_end=click(rod[-1]),
        proximal_upper=click(upper + PROXIMAL_MM * px_per_mm * up),
        cut_upper=click(upper),
        cut_lower=click(lower),
        distal_lower=click(lower + DISTAL_MM * px_per_mm * down),
        knee_outer=click(at[Landmark.LATERAL_PLATEAU if frontal else Landmark.PLATEAU_ANTERIOR]),
        knee_inner=click(at[Landmark.MEDIAL_PLATEAU if frontal else Landmark.PLATEAU_POSTERIOR]),
        ankle_outer=click(at[Landmark.LATERAL_PLAFOND if frontal else Landmark.PLAFOND_ANTERIOR]),
        ankle_inner=click(at[Landmark.MEDIAL_PLAFOND if frontal else Landmark.PLAFOND_POSTERIOR]),
        fibular_head=click(at[Landmark.FIBULAR_HEAD_TIP]) if frontal else None,
        malleolus=click(at[Landmark.LATERAL_MALLEOLUS_TIP]) if frontal else None,
    )


def _way(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    way = b - a
    return np.asarray(way / np.hypot(*way))
