"""The two ways in: `read_picture` decodes a film, `read_facts` reads its header only."""

from dataclasses import dataclass

from limbwright.error import Unreadable
from limbwright.film.reading.facts import FileKind, HeaderFacts
from limbwright.film.reading.picture import Picture
from limbwright.film.reading.quiet import heard
from limbwright.film.reading.recognise import kind_of
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFacts:
    """Header facts of a film file, and what was noticed while reading them."""

    facts: HeaderFacts
    """What the header says."""
    findings: tuple[Finding, ...]
    """What is unreadable, contradictory or assumed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadFilm:
    """A film file, decoded."""

    picture: Picture
    """Grey values and windows."""
    facts: HeaderFacts
    """What the header says."""
    findings: tuple[Finding, ...]
    """What is unreadable, contradictory or assumed."""


def read_facts(content: bytes, *, name: str) -> ReadFacts:
    """Header facts of a film file, without decoding its pixels.

    Parameters
    ----------
    content : bytes
        The whole file; its format is recognised by content.
    name : str
        Name of the film, for messages.

    Raises
    ------
    Unreadable
        When the file is of no known format, damaged, or asks for more than the limits.
    """
    kind = kind_of(content, name=name)
    with heard() as remarks:
        try:
            facts, findings = _facts_of(content, kind, name)
        except MemoryError:
            raise _too_large(name) from None
    return ReadFacts(facts=facts, findings=(*findings, *_passed_on(remarks, name)))


def read_picture(content: bytes, *, name: str) -> ReadFilm:
    """A film file's picture, header facts and findings.

    Parameters
    ----------
    content : bytes
        The whole file; its format is recognised by content. The picture of an uncompressed DICOM film may be
        a view of it, so that nothing is copied.
    name : str
        Name of the film, for messages.

    Raises
    ------
    Unreadable
        When the file is of no known format, damaged, cut short, holds several frames, or asks for more than
        the limits (`limits`).
    Missing
        When something needed is not stated, or the library that unpacks the picture is not installed.
    Contradiction
        When the header contradicts itself or the packed picture.
    """
    kind = kind_of(content, name=name)
    with heard() as remarks:
        try:
            picture, facts, findings = _film_of(content, kind, name)
        except MemoryError:
            raise _too_large(name) from None
    return ReadFilm(picture=picture, facts=facts, findings=(*findings, *_passed_on(remarks, name)))


def _facts_of(content: bytes, kind: FileKind, name: str) -> tuple[HeaderFacts, tuple[Finding, ...]]:
    if kind is FileKind.DICOM:
        from limbwright.film.reading.dicom import dicom_facts

        return dicom_facts(content, name=name)
    if kind is FileKind.TIFF:
        from limbwright.film.reading.tiff import tiff_facts

        return tiff_facts(content, name=name)
    from limbwright.film.reading.raster import raster_facts

    return raster_facts(content, kind, name=name)


def _film_of(content: bytes, kind: FileKind, name: str) -> tuple[Picture, HeaderFacts, tuple[Finding, ...]]:
    if kind is FileKind.DICOM:
        from limbwright.film.reading.dicom import dicom_picture

        return dicom_picture(content, name=name)
    if kind is FileKind.TIFF:
        from limbwright.film.reading.tiff import tiff_picture

        return tiff_picture(content, name=name)
    from limbwright.film.reading.raster import raster_picture

    return raster_picture(content, kind, name=name)


def _passed_on(remarks: list[str], name: str) -> tuple[Finding, ...]:
    """One finding for all that the libraries remarked, shortened."""
    if not remarks:
        return ()
    words = "; ".join(remarks[:3])
    more = f" (and {len(remarks) - 3} more)" if len(remarks) > 3 else ""
    return (remark("film-header-remark", f"{name}: {words[:300]}{more}"),)


def _too_large(name: str) -> Unreadable:
    return Unreadable(
        "there is not enough memory to unpack the picture.",
        where=name,
        next_step="Close other programs, or export the film uncompressed.",
    )
