"""TIFF pictures by tifffile; one grey page, uncompressed or packed without loss."""

import importlib
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Missing, Unreadable
from limbwright.film.reading import limits
from limbwright.film.reading.colour import grey_of_colour
from limbwright.film.reading.facts import FileKind, HeaderFacts
from limbwright.film.reading.picture import Picture
from limbwright.film.reading.raster import no_scale, picture_of_samples
from limbwright.film.reading.recognise import require_size
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding

_COMPRESSIONS = {1: "none", 5: "LZW", 8: "deflate", 32946: "deflate", 32773: "PackBits"}
_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB = 0, 1, 2
_PHOTOMETRIC = {_WHITE_IS_ZERO: "white is zero", _BLACK_IS_ZERO: "black is zero", _RGB: "RGB"}
_DEPTHS = (8, 10, 12, 14, 16)
_EXPORT = "Export the radiograph itself as DICOM or as one grey page, uncompressed or LZW."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """What the first page declares, as plain numbers."""

    page: Any
    several: bool
    rows: int
    columns: int
    shape: tuple[int, ...]
    dtype: np.dtype[Any]
    bits: int
    photometric: int
    compression: int
    tiles: int
    """Tiles, 0 when stored in strips."""
    tile_pixels: int
    offsets: tuple[int, ...]
    byte_counts: tuple[int, ...]


def tiff_facts(content: bytes, *, name: str) -> tuple[HeaderFacts, tuple[Finding, ...]]:
    """Size and depth of a TIFF file; such files carry no scale."""
    return _facts(_checked(content, name)), (no_scale(FileKind.TIFF, name),)


def tiff_picture(content: bytes, *, name: str) -> tuple[Picture, HeaderFacts, tuple[Finding, ...]]:
    """Picture, facts and findings of a TIFF file.

    Raises
    ------
    Unreadable
        When the file is damaged, too large, holds several pages, or colour or compression not read here.
    """
    sheet = _checked(content, name)
    findings = [no_scale(FileKind.TIFF, name)]
    if sheet.compression != 1:
        _require_codecs(sheet, name)
    try:
        samples: NDArray[Any] = sheet.page.asarray(maxworkers=1)
    except Exception as reason:  # a foreign decoder on damaged bytes may raise anything
        raise _damaged(reason, name) from reason
    samples = np.ascontiguousarray(samples.astype(sheet.dtype.newbyteorder("="), copy=False))
    if samples.ndim == 3:
        samples, colour_findings = grey_of_colour(samples, name=name)
        findings.extend(colour_findings)
    if sheet.photometric == _WHITE_IS_ZERO:
        samples = np.subtract(samples.dtype.type((1 << sheet.bits) - 1), samples)
        findings.append(remark("film-white-is-zero", f"{name}: the lowest value is white in this TIFF."))
    return picture_of_samples(samples, sheet.bits), _facts(sheet), tuple(findings)


def _checked(content: bytes, name: str) -> _Sheet:
    """The only page, its size and kind checked before it is decoded."""
    try:
        sheet = _sheet(content)
    except Exception as reason:  # a foreign parser on damaged bytes may raise anything
        raise _damaged(reason, name) from reason
    if sheet.several:
        raise Unreadable("the TIFF holds several pages; a film is one.", where=name, next_step=_EXPORT)
    require_size(sheet.rows, sheet.columns, None if sheet.compression == 1 else len(content), name=name)
    if sheet.compression not in _COMPRESSIONS:
        raise Unreadable(
            f"the TIFF is packed by method {sheet.compression}, which is not read.",
            where=name,
            next_step=_EXPORT,
        )
    _require_grey(sheet, name)
    if sheet.tiles > limits.MAX_TILES or sheet.tile_pixels > limits.MAX_PIXELS:
        raise Unreadable(
            f"the TIFF is cut into {sheet.tiles:,} tiles of {sheet.tile_pixels:,} pixels; at most "
            f"{limits.MAX_TILES:,} tiles of {limits.MAX_PIXELS:,} are read.",
            where=name,
            next_step=_EXPORT,
        )
    _require_whole(sheet, len(content), name)
    return sheet


def _sheet(content: bytes) -> _Sheet:
    import tifffile

    file = tifffile.TiffFile(BytesIO(content))
    page: Any = file.pages.first
    tiled = bool(page.is_tiled)
    return _Sheet(
        page=page,
        several=_has_second_page(file),
        rows=int(page.imagelength),
        columns=int(page.imagewidth),
        shape=tuple(int(extent) for extent in page.shape),
        dtype=np.dtype(page.dtype),
        bits=int(page.bitspersample),
        photometric=int(page.photometric),
        compression=int(page.compression),
        tiles=len(page.dataoffsets) if tiled else 0,
        tile_pixels=int(page.tilewidth) * int(page.tilelength) if tiled else 0,
        offsets=tuple(int(offset) for offset in page.dataoffsets),
        byte_counts=tuple(int(count) for count in page.databytecounts),
    )


def _has_second_page(file: Any) -> bool:
    try:
        file.pages[1]
    except IndexError:
        return False
    return True


def _require_grey(sheet: _Sheet, name: str) -> None:
    size = (sheet.rows, sheet.columns)
    grey = sheet.photometric in (_WHITE_IS_ZERO, _BLACK_IS_ZERO) and sheet.shape == size
    colour = sheet.photometric == _RGB and sheet.shape == (*size, 3) and sheet.bits == 8
    depth = sheet.dtype.kind == "u" and sheet.dtype.itemsize in (1, 2) and sheet.bits in _DEPTHS
    if not (depth and (grey or colour)):
        raise Unreadable(
            f"the TIFF holds samples of type {sheet.dtype}, {sheet.bits} bits, in the shape {sheet.shape}, "
            f"photometric kind {sheet.photometric}; grey of 8 to 16 bits is read.",
            where=name,
            next_step=_EXPORT,
        )


def _require_whole(sheet: _Sheet, file_bytes: int, name: str) -> None:
    """Refuse segments beyond the end of the file, which would be filled with zeros without a word."""
    samples = sheet.rows * sheet.columns * (sheet.shape[2] if len(sheet.shape) == 3 else 1)
    counts, offsets = sheet.byte_counts, sheet.offsets
    paired = len(offsets) == len(counts) > 0 and 0 not in offsets
    inside = paired and all(at + count <= file_bytes for at, count in zip(offsets, counts, strict=True))
    enough = sheet.compression != 1 or sum(counts) * 8 >= samples * sheet.bits
    if not (inside and enough):
        raise Unreadable(
            f"the TIFF is cut short: its picture needs data that the {file_bytes:,} bytes do not hold.",
            where=name,
            next_step="Copy or export the film again.",
        )


def _require_codecs(sheet: _Sheet, name: str) -> None:
    """Refuse packed pages without imagecodecs.

    The standard library's inflater, which would stand in for some of them, knows no bound.
    """
    try:
        importlib.import_module("imagecodecs")
    except ImportError as reason:
        raise Missing(
            f"the TIFF is packed by {_COMPRESSIONS[sheet.compression]}; the library that unpacks it is not "
            "installed.",
            where=name,
            next_step="Install the Python package 'imagecodecs', or export the picture uncompressed.",
        ) from reason


def _facts(sheet: _Sheet) -> HeaderFacts:
    return HeaderFacts(
        kind=FileKind.TIFF,
        rows=sheet.rows,
        columns=sheet.columns,
        bits_stored=sheet.bits,
        photometric=_PHOTOMETRIC[sheet.photometric],
        transfer_syntax=_COMPRESSIONS[sheet.compression],
    )


def _damaged(reason: Exception, name: str) -> Unreadable:
    words = str(reason).replace("\n", " ").strip()[:160] or type(reason).__name__
    return Unreadable(
        f"the TIFF file is damaged ({words}).", where=name, next_step="Copy or export the film again."
    )
