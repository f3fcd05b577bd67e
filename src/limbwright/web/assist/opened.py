"""A film of the store ready to be read, with its record in a case; bounded in number and size."""

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.patient import Patient
from limbwright.error import Contradiction, OutOfRange
from limbwright.film.film import Film
from limbwright.film.reading.development import Development, development_of
from limbwright.film.scale import FilmScale, scale_of
from limbwright.film.tracing import FilmPlate, film_plate
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Side
from limbwright.web.bench import Workbench
from limbwright.web.failure import Failure

SMALLEST_PIXEL_MM, LARGEST_PIXEL_MM = 0.03, 3.0
"""Outside of these no film of a leg is read; they bound the memory that a reading takes."""
WAIT_SECONDS = 10.0
_AT_A_TIME = threading.BoundedSemaphore(2)
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OpenedFilm:
    """A film's record with its grey values."""

    film: Film
    """As the case document has it."""
    scale: FilmScale
    """What is known of its scale."""
    detector: FilmPlate
    """Grey values with the spacing at the detector, by which a ball of known size is found."""
    bone: FilmPlate
    """Grey values with the spacing in the plane of the bone; as `detector` while there is no scale."""
    development: Development
    """How attenuation became grey, as far as the header says."""

    @property
    def mm_per_px(self) -> float | None:
        """Millimetres of bone for the width of a pixel; None while there is no scale."""
        return None if self.scale.scale is None else self.scale.scale.column_mm


def film_record(document: Mapping[str, Any], sha256: str) -> Film:
    """A film as a case document has it.

    Raises
    ------
    UnreadableCase
        With every problem found, as for a whole case.
    Contradiction
        When the record is of another film.
    """
    # A film is only read as part of a case: older shapes are brought up to date there.
    around = json.loads(case_to_json(_EMPTY))
    case = case_from_json(json.dumps({**around, "films": [document]}), complete=False, where="film record")
    film = case.films[0]
    if film.sha256 != sha256:
        raise Contradiction(
            "the record is of another film than the address.",
            where="film.sha256",
            next_step="Send the record whose sha256 stands in the address.",
        )
    return film


def record_plain(film: Film) -> dict[str, Any]:
    """A film's record as a case document has it."""
    plain: dict[str, Any] = json.loads(case_to_json(replace(_EMPTY, films=(film,))))["films"][0]
    return plain


_EMPTY = Case(id="film", side=Side.LEFT, patient=Patient(id="film", sex=Sex.FEMALE, age_years=30.0))


def opened(bench: Workbench, film: Film, sha256: str) -> OpenedFilm:
    """A film decoded, once while it is in memory. Raises LimbwrightError."""
    picture = bench.lightbox.pyramid(sha256).film.picture
    header = bench.lightbox.facts(sha256).facts.scale
    found = scale_of(film.scale, where=film.name)
    detector = film_plate(picture, header, name=film.name)
    bone = detector
    if found.scale is not None:
        pair = (found.scale.row_mm, found.scale.column_mm)
        bone = film_plate(picture, header, name=film.name, spacing_mm=pair)
        if not detector.spaced:
            detector = bone
    for plate in (detector.plate, bone.plate):
        if not SMALLEST_PIXEL_MM <= plate.pixel_mm <= LARGEST_PIXEL_MM:
            raise OutOfRange(
                f"pixels of {plate.pixel_mm:.4g} mm, expected {SMALLEST_PIXEL_MM:g} to "
                f"{LARGEST_PIXEL_MM:g} mm.",
                where=f"film '{film.name}'",
                next_step="Check the scale of the film; mark points by hand until it is right.",
            )
    return OpenedFilm(
        film=film, scale=found, detector=detector, bone=bone, development=development_of(picture)
    )


def in_turn(work: Callable[[], T]) -> T:
    """Do one reading while at most one other runs.

    Raises
    ------
    Failure
        503 when the readings before it take too long.
    """
    if not _AT_A_TIME.acquire(timeout=WAIT_SECONDS):
        raise Failure(
            503,
            "busy",
            f"other readings have kept the server busy for {WAIT_SECONDS:g} seconds.",
            where="assisted reading",
            next_step="Try again, or mark the points by hand.",
        )
    try:
        return work()
    finally:
        _AT_A_TIME.release()
