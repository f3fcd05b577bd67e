"""TIFF pictures by tifffile; one grey page, uncompressed or packed without loss."""

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import LimbwrightError, Unreadable
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
_EXPORT = "Export the radiograph itself as DICOM or as one grey page, uncompressed or LZW."


def tiff_facts(content: bytes, *, name: str) -> tuple[HeaderFacts, tuple[Finding, ...]]:
    """Size and depth of a TIFF file; such files carry no scale."""
    _, page = _page(content, name)
    return _facts(page), (no_scale(FileKind.TIFF, name),)


def tiff_picture(content: bytes, *, name: str) -> tuple[Picture, HeaderFacts, tuple[Finding, ...]]:
    """Picture, facts and findings of a TIFF file.

    Raises
    ------
    Unreadable
        When the file is damaged, too large, holds several pages, or colour or compression not read here.
    """
    file, page = _page(content, name)
    facts = _facts(page)
    findings = [no_scale(FileKind.TIFF, name)]
    try:
        samples: NDArray[Any] = page.asarray(maxworkers=1)
    except Exception as reason:  # a foreign decoder on damaged bytes may raise anything
        raise _damaged(reason, name) from reason
    finally:
        file.close()
    samples = np.ascontiguousarray(samples.astype(samples.dtype.newbyteorder("="), copy=False))
    if samples.ndim == 3:
        samples, colour_findings = grey_of_colour(samples, name=name)
        findings.extend(colour_findings)
    if int(page.photometric) == _WHITE_IS_ZERO:
        samples = np.subtract(samples.dtype.type((1 << facts.bits_stored) - 1), samples)
        findings.append(remark("film-white-is-zero", f"{name}: the lowest value is white in this TIFF."))
    return picture_of_samples(samples, facts.bits_stored), facts, tuple(findings)


def _page(content: bytes, name: str) -> tuple[Any, Any]:
    """The open file and its only page, sizes and kinds checked."""
    import tifffile

    try:
        file = tifffile.TiffFile(BytesIO(content))
        page = file.pages.first
        several = _has_second_page(file)
        shape, dtype = tuple(page.shape), np.dtype(page.dtype)
        tile = page.tilewidth * page.tilelength if page.is_tiled else page.rowsperstrip * page.imagewidth
        segments = len(page.dataoffsets)
    except Exception as reason:  # a foreign parser on damaged bytes may raise anything
        raise _damaged(reason, name) from reason
    if several:
        raise Unreadable("the TIFF holds several pages; a film is one.", where=name, next_step=_EXPORT)
    rows, columns = int(page.imagelength), int(page.imagewidth)
    packed = None if int(page.compression) == 1 else len(content)
    require_size(rows, columns, packed, name=name)
    if int(page.compression) not in _COMPRESSIONS:
        raise Unreadable(
            f"the TIFF is packed by method {int(page.compression)}, which is not read.",
            where=name,
            next_step=_EXPORT,
        )
    _require_grey(page, shape, dtype, name)
    if page.is_tiled and (tile > limits.MAX_PIXELS or segments > limits.MAX_TILES):
        raise Unreadable(
            f"the TIFF is cut into {segments:,} tiles of {tile:,} pixels; at most {limits.MAX_TILES:,} tiles "
            "are read.",
            where=name,
            next_step=_EXPORT,
        )
    _require_whole(page, content, rows * columns * dtype.itemsize * (3 if len(shape) == 3 else 1), name)
    return file, page


def _has_second_page(file: Any) -> bool:
    try:
        file.pages[1]
    except IndexError:
        return False
    return True


def _require_grey(page: Any, shape: tuple[int, ...], dtype: Any, name: str) -> None:
    photometric = int(page.photometric)
    grey = photometric in (_WHITE_IS_ZERO, _BLACK_IS_ZERO) and len(shape) == 2
    colour = photometric == _RGB and len(shape) == 3 and shape[2] == 3 and dtype == np.uint8
    depth = dtype is not None and dtype.kind == "u" and dtype.itemsize in (1, 2)
    if not (depth and (grey or colour) and page.bitspersample in (8, 10, 12, 14, 16)):
        raise Unreadable(
            f"the TIFF holds samples of type {dtype}, {page.bitspersample} bits, in the shape {shape} and "
            f"photometric kind {photometric}; grey of 8 to 16 bits is read.",
            where=name,
            next_step=_EXPORT,
        )


def _require_whole(page: Any, content: bytes, needed: int, name: str) -> None:
    """Refuse segments beyond the end of the file, which would be filled with zeros without a word."""
    offsets, counts = page.dataoffsets, page.databytecounts
    beyond = any(at + count > len(content) for at, count in zip(offsets, counts, strict=False))
    packed_short = int(page.compression) == 1 and page.bitspersample in (8, 16) and sum(counts) < needed
    if beyond or packed_short or len(offsets) != len(counts) or not offsets or 0 in offsets:
        raise Unreadable(
            f"the TIFF is cut short: its picture needs data that the {len(content):,} bytes do not hold.",
            where=name,
            next_step="Copy or export the film again.",
        )


def _facts(page: Any) -> HeaderFacts:
    photometric = int(page.photometric)
    names = {_WHITE_IS_ZERO: "white is zero", _BLACK_IS_ZERO: "black is zero", _RGB: "RGB"}
    return HeaderFacts(
        kind=FileKind.TIFF,
        rows=int(page.imagelength),
        columns=int(page.imagewidth),
        bits_stored=int(page.bitspersample),
        photometric=names[photometric],
        transfer_syntax=_COMPRESSIONS[int(page.compression)],
    )


def _damaged(reason: Exception, name: str) -> LimbwrightError:
    words = str(reason).replace("\n", " ").strip()[:160] or type(reason).__name__
    return Unreadable(
        f"the TIFF file is damaged ({words}).", where=name, next_step="Copy or export the film again."
    )
