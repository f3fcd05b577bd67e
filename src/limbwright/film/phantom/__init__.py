"""Film phantom: radiographs of a parametric leg with exactly known truth.

A patient is a frozen value (`PatientShape` of two `LegShape`), so is the X-ray room (`XraySetup`); a film
is a pure function of them and a seed. Importing this package loads neither the compiler nor the DICOM
library.
"""

from limbwright.film.phantom.bones import Detail
from limbwright.film.phantom.dicom import Calibration, FilmHeader, dicom_bytes
from limbwright.film.phantom.films import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    PhantomFilm,
    PhantomFilms,
    film_of_meshes,
    standing_films,
    take_film,
)
from limbwright.film.phantom.follow_up import (
    FilmDay,
    FollowUp,
    Positioning,
    film_days,
    lengthening_series,
)
from limbwright.film.phantom.hardware import (
    Ball,
    Hardware,
    Lengthening,
    Nail,
    Regenerate,
    RegenerateShape,
    Ruler,
    Screw,
    Treatment,
)
from limbwright.film.phantom.leg import (
    FEMUR_SHAFT,
    TIBIA_SHAFT,
    Angulation,
    LegShape,
    PatientShape,
    ShaftSection,
    Stance,
    scaled,
)
from limbwright.film.phantom.setting import Detector, XraySetup
from limbwright.film.phantom.truth import CircleTruth, GapTruth, LegTruth, NailTruth, Truth
from limbwright.film.phantom.truth_file import truth_json
from limbwright.film.phantom.walls import WallKind, WallTruth

__all__ = [
    "FEMUR_SHAFT",
    "FRONTAL_SETUP",
    "SAGITTAL_SETUP",
    "TIBIA_SHAFT",
    "Angulation",
    "Ball",
    "Calibration",
    "CircleTruth",
    "Detail",
    "Detector",
    "FilmDay",
    "FilmHeader",
    "FollowUp",
    "GapTruth",
    "Hardware",
    "LegShape",
    "LegTruth",
    "Lengthening",
    "Nail",
    "NailTruth",
    "PatientShape",
    "PhantomFilm",
    "PhantomFilms",
    "Positioning",
    "Regenerate",
    "RegenerateShape",
    "Ruler",
    "Screw",
    "ShaftSection",
    "Stance",
    "Treatment",
    "Truth",
    "WallKind",
    "WallTruth",
    "XraySetup",
    "dicom_bytes",
    "film_days",
    "film_of_meshes",
    "lengthening_series",
    "scaled",
    "standing_films",
    "take_film",
    "truth_json",
]
