"""A DICOM file's header, read by pydicom under limits, and where its pixel data lies.

Sequences that nest without end, headers of a million elements and deflated bombs are stopped by counting
what the parser asks for, not by trusting what the file declares.
"""

import struct
import zlib
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from limbwright.error import Contradiction, LimbwrightError, Missing, Unreadable
from limbwright.film.reading import limits
from limbwright.film.reading.recognise import is_bare_dicom
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding

if TYPE_CHECKING:
    from pydicom.dataset import Dataset

IMPLICIT_LITTLE = "1.2.840.10008.1.2"
EXPLICIT_LITTLE = "1.2.840.10008.1.2.1"
DEFLATED_LITTLE = "1.2.840.10008.1.2.1.99"
EXPLICIT_BIG = "1.2.840.10008.1.2.2"
NATIVE = frozenset({IMPLICIT_LITTLE, EXPLICIT_LITTLE, DEFLATED_LITTLE, EXPLICIT_BIG})

_PIXEL_DATA = 0x7FE00010
_OTHER_PIXELS = {0x7FE00008: "32-bit floating point", 0x7FE00009: "64-bit floating point"}
_UNDEFINED = 0xFFFFFFFF
_LONG_LENGTH_VRS = frozenset({b"OB", b"OW", b"OF", b"OD", b"OL", b"OV", b"UN", b"UC", b"UR", b"UT", b"SQ"})


@dataclass(frozen=True, slots=True, kw_only=True)
class PixelBytes:
    """Where the pixel data lies in `Header.content`."""

    start: int
    """Offset of the first byte of the value (of the basic offset table when encapsulated)."""
    length: int | None
    """Declared bytes of the value; None when encapsulated in fragments."""
    vr: str
    """Value representation, empty when implicit."""
    little_endian: bool
    """Byte order of the value."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """A parsed header, with the bytes it came from."""

    name: str
    """Name of the film, for messages."""
    content: bytes
    """The file; for a deflated one the inflated data set."""
    dataset: "Dataset"
    """Elements before the pixel data, values not yet interpreted."""
    syntax: str
    """Transfer syntax UID."""
    syntax_name: str
    """Its registered name."""
    pixels: PixelBytes | None
    """Pixel data, None when the file has none."""
    findings: tuple[Finding, ...]
    """What had to be assumed to read it."""


class _TooMuch(Exception):
    """The parser asked for more than a header may cost."""


class _Metered(BytesIO):
    """Bytes that count how often and how much is read."""

    reads = 0
    taken = 0

    def read(self, size: int | None = -1, /) -> bytes:
        self.reads += 1
        part = super().read(size)
        self.taken += len(part)
        if self.reads > limits.MAX_HEADER_READS or self.taken > limits.MAX_HEADER_BYTES:
            raise _TooMuch
        return part


def read_header(content: bytes, *, name: str) -> Header:
    """Parse the header of a DICOM file up to its pixel data.

    Raises
    ------
    Unreadable
        When the header is damaged, nested or numerous beyond the limits, or inflates beyond them.
    Missing
        When the transfer syntax is not stated.
    """
    try:
        return _read(content, name)
    except LimbwrightError:
        raise
    except (_TooMuch, RecursionError):
        raise Unreadable(
            f"the header has more elements or deeper nesting than a film needs (limits: some "
            f"{limits.MAX_HEADER_READS // 3:,} elements, {limits.MAX_HEADER_BYTES:,} bytes).",
            where=name,
            next_step="Export the single film again, without private data.",
        ) from None
    except Exception as reason:  # a foreign parser on damaged bytes may raise anything
        raise Unreadable(
            f"the DICOM header is damaged ({_short(reason)}).",
            where=name,
            next_step="Copy or export the film again.",
        ) from reason


def _read(content: bytes, name: str) -> Header:
    from pydicom.filereader import read_dataset
    from pydicom.uid import UID

    findings: list[Finding] = []
    if is_bare_dicom(content):
        start = 0
        findings.append(remark("film-no-preamble", f"{name}: the file lacks the DICOM preamble."))
    else:
        start = 132
    source = _Metered(content)
    source.seek(start)
    meta = read_dataset(source, False, True, stop_when=lambda tag, _vr, _length: tag >> 16 != 2)
    syntax = str(meta.get("TransferSyntaxUID", "") or "").strip()
    if not syntax and start:
        raise Missing(
            "the file does not state its transfer syntax (0002,0010).",
            where=name,
            next_step="Export the film again from the archive.",
        )
    if not syntax:
        syntax = EXPLICIT_LITTLE if _starts_explicit(content[source.tell() :]) else IMPLICIT_LITTLE
    registered = UID(syntax)
    if not (registered.is_valid and registered.is_transfer_syntax):
        raise Unreadable(
            f"the transfer syntax '{syntax[:64]}' is not registered.",
            where=name,
            next_step="Export the film as uncompressed DICOM.",
        )
    if syntax == DEFLATED_LITTLE:
        content = _inflated(content[source.tell() :], name)
        source = _Metered(content)
    implicit, little = syntax == IMPLICIT_LITTLE, syntax != EXPLICIT_BIG
    dataset = read_dataset(source, implicit, little, stop_when=lambda tag, _vr, _length: _is_past_header(tag))
    stated_implicit = implicit
    implicit = bool(dataset.original_encoding[0])
    if implicit != stated_implicit:
        words = "without" if implicit else "with"
        findings.append(
            remark(
                "film-encoding-disagrees",
                f"{name}: the transfer syntax is {registered.name}, but the header is written {words} value "
                f"representations.",
            )
        )
    return Header(
        name=name,
        content=content,
        dataset=dataset,
        syntax=syntax,
        syntax_name=registered.name,
        pixels=_pixel_bytes(content, source.tell(), implicit, little, name),
        findings=tuple(findings),
    )


def _is_past_header(tag: int) -> bool:
    return tag == _PIXEL_DATA or tag in _OTHER_PIXELS or tag >> 16 > 0x7FE0


def _starts_explicit(content: bytes) -> bool:
    return content[4:6].isalpha() and content[4:6].isupper()


def _inflated(packed: bytes, name: str) -> bytes:
    limit = limits.MAX_HEADER_BYTES + limits.MAX_PIXELS * 2
    # A factor that no radiograph with its noise reaches, but a bomb needs.
    limit = min(limit, max(limits.ROOMY_PIXELS * 2, len(packed) * limits.MAX_PIXELS_PER_BYTE))
    inflater = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        content = inflater.decompress(packed, limit)
    except zlib.error as reason:
        raise Unreadable(
            f"the deflated data set is damaged ({reason}).", where=name, next_step="Copy the film again."
        ) from reason
    if inflater.unconsumed_tail:
        raise Unreadable(
            f"the deflated data set grows beyond {limit:,} bytes.",
            where=name,
            next_step="Export the film again; the file is damaged or was made to exhaust memory.",
        )
    if not inflater.eof:
        raise Unreadable(
            "the deflated data set is cut short.", where=name, next_step="Copy or export the film again."
        )
    return content


def _pixel_bytes(content: bytes, position: int, implicit: bool, little: bool, name: str) -> PixelBytes | None:
    """Header of the pixel data element at `position`, where the parser stopped."""
    head = content[position : position + 12]
    order = "<" if little else ">"
    if len(head) < 8:
        return None
    group, element = struct.unpack_from(order + "HH", head)
    tag = group << 16 | element
    if tag in _OTHER_PIXELS:
        raise Unreadable(
            f"the picture is stored as {_OTHER_PIXELS[tag]} numbers, which no radiograph uses.",
            where=name,
            next_step="Export the radiograph itself.",
        )
    if tag != _PIXEL_DATA:
        return None
    vr, start = b"", position + 8
    if not implicit:
        vr = head[4:6]
        if vr not in _LONG_LENGTH_VRS or len(head) < 12:
            raise Contradiction(
                f"the pixel data has the value representation {vr!r}, expected OB or OW.",
                where=name,
                next_step="Export the film again; its header is damaged.",
            )
        (length,) = struct.unpack_from(order + "L", head, 8)
        start = position + 12
    else:
        (length,) = struct.unpack_from(order + "L", head, 4)
    return PixelBytes(
        start=start,
        length=None if length == _UNDEFINED else length,
        vr=vr.decode("ascii"),
        little_endian=little,
    )


def _short(reason: BaseException) -> str:
    words = str(reason).replace("\n", " ").strip() or type(reason).__name__
    return words if len(words) <= 160 else words[:157] + "..."
