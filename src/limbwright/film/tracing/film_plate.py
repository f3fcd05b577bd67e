"""A film's picture as a plate: which spacing its grey values are searched with, and whether it is known."""

from dataclasses import dataclass

from limbwright.film.film import HeaderScale
from limbwright.film.reading import Picture
from limbwright.film.scale import constant
from limbwright.film.tracing.plate import Plate
from limbwright.finding import Finding, Severity
from limbwright.published import COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmPlate:
    """A plate and what is known of its spacing."""

    plate: Plate
    """Grey values with their spacing."""
    spaced: bool
    """Whether the spacing is known, so that millimetres mean something."""
    findings: tuple[Finding, ...]
    """Says so where it is not."""


def film_plate(
    picture: Picture,
    header: HeaderScale,
    *,
    name: str,
    spacing_mm: tuple[float, float] | None = None,
) -> FilmPlate:
    """A picture with the spacing that was given, else the header's, else a usual detector's.

    Parameters
    ----------
    picture : Picture
        As decoded; its grey values are not copied.
    header : HeaderScale
        What the header says.
    name : str
        The film's name, for the finding.
    spacing_mm : tuple of float, optional
        Height and width of a pixel, when known better than by the header. [mm]
    """
    pair = spacing_mm or header.imager_pixel_spacing_mm or header.pixel_spacing_mm
    findings: tuple[Finding, ...] = ()
    spaced = pair is not None
    if pair is None:
        usual = constant("detector spacing where the header has none").number("value")
        pair = (usual, usual)
        findings = (_no_spacing(name, usual),)
    exposed = None if picture.padding is None else picture.exposed()
    return FilmPlate(
        plate=Plate(
            grey=picture.values,
            row_mm=pair[0],
            column_mm=pair[1],
            unusable=None if exposed is None or exposed.all() else ~exposed,
        ),
        spaced=spaced,
        findings=findings,
    )


def _no_spacing(name: str, usual_mm: float) -> Finding:
    return Finding(
        id="film-spacing-assumed",
        severity=Severity.CAUTION,
        words=(
            f"{name}: the header has no pixel spacing; {usual_mm:g} mm was taken to search the film. "
            "Pixels and angles hold, millimetres are left out."
        ),
        next_step="Give --spacing, or calibrate by a ball, a ruler or a nail.",
        rule="Lengths need a scale.",
        source=COMMON_PRACTICE,
    )
