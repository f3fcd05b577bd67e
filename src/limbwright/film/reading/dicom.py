"""A DICOM file as facts, and as a picture."""

from dataclasses import replace

from limbwright.error import Missing
from limbwright.film.reading.dicom_facts import header_facts
from limbwright.film.reading.dicom_header import Header, read_header
from limbwright.film.reading.dicom_layout import layout_of
from limbwright.film.reading.dicom_pixels import stored_values
from limbwright.film.reading.dicom_tone import picture_of
from limbwright.film.reading.dicom_values import Values
from limbwright.film.reading.facts import HeaderFacts
from limbwright.film.reading.picture import Picture
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding

_COARSE_BELOW_BITS = 8


def dicom_facts(content: bytes, *, name: str) -> tuple[HeaderFacts, tuple[Finding, ...]]:
    """Facts of a DICOM header; the pixel data is not touched.

    Raises
    ------
    Missing
        When the file states no picture size.
    """
    header = read_header(content, name=name)
    values = Values(header.dataset, name)
    facts, findings = header_facts(header, values)
    if facts.rows <= 0 or facts.columns <= 0:
        raise _no_picture(header, facts)
    return facts, (*header.findings, *values.findings, *findings)


def dicom_picture(content: bytes, *, name: str) -> tuple[Picture, HeaderFacts, tuple[Finding, ...]]:
    """Picture, facts and findings of a DICOM file."""
    header = read_header(content, name=name)
    values = Values(header.dataset, name)
    facts, fact_findings = header_facts(header, values)
    if facts.rows <= 0 or facts.columns <= 0:
        raise _no_picture(header, facts)
    layout = layout_of(header, values)
    stored, pixel_findings = stored_values(header, layout)
    picture, tone_findings = picture_of(header, layout, stored, values)
    coarse: tuple[Finding, ...] = ()
    if layout.bits_stored < _COARSE_BELOW_BITS:
        coarse = (remark("film-coarse-grey", f"{name}: {layout.bits_stored} bits a pixel."),)
    findings = (
        *header.findings,
        *values.findings,
        *fact_findings,
        *pixel_findings,
        *tone_findings,
        *coarse,
    )
    # A value that several steps looked at is reported once.
    return picture, replace(facts, bits_stored=layout.bits_stored), tuple(dict.fromkeys(findings))


def _no_picture(header: Header, facts: HeaderFacts) -> Missing:
    what = f" (modality {facts.modality})" if facts.modality else ""
    return Missing(
        f"the file states no picture size{what}: {facts.rows} rows, {facts.columns} columns.",
        where=header.name,
        next_step="Choose the file that holds the radiograph.",
    )
