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
    standing_films,
    take_film,
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
from limbwright.film.phantom.leg import Angulation, LegShape, PatientShape, ShaftSection, Stance
from limbwright.film.phantom.setting import Detector, XraySetup
from limbwright.film.phantom.truth import CircleTruth, LegTruth, Truth
from limbwright.film.phantom.walls import WallKind, WallTruth

__all__ = [
    "FRONTAL_SETUP",
    "SAGITTAL_SETUP",
    "Angulation",
    "Ball",
    "Calibration",
    "CircleTruth",
    "Detail",
    "Detector",
    "FilmHeader",
    "Hardware",
    "LegShape",
    "LegTruth",
    "Lengthening",
    "Nail",
    "PatientShape",
    "PhantomFilm",
    "PhantomFilms",
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
    "standing_films",
    "take_film",
]
