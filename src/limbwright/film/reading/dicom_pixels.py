"""Stored samples of a DICOM picture: unpacked, or viewed in place where they are not packed."""

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Contradiction, LimbwrightError, Missing, Unreadable
from limbwright.film.reading import limits
from limbwright.film.reading.codecs import PACKINGS, RUN_LENGTH, Packed, decoder_for, unpacked
from limbwright.film.reading.codestream import Codestream, Packing, codestream_of, ends_whole
from limbwright.film.reading.colour import grey_of_colour
from limbwright.film.reading.dicom_header import NATIVE, Header, PixelBytes
from limbwright.film.reading.dicom_layout import Layout, not_read_as
from limbwright.film.reading.recognise import require_size
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding

_AGAIN = "Export the film again from the archive."


def stored_values(header: Header, layout: Layout) -> tuple[NDArray[Any], tuple[Finding, ...]]:
    """Stored grey values, shape (rows, columns), uint8, int16 or uint16; a view of the file if possible."""
    pixels = header.pixels
    if pixels is None:
        raise Missing(
            f"the file has no pixel data; it ends after {len(header.content):,} bytes.",
            where=header.name,
            next_step="Copy or export the film again.",
        )
    findings: list[Finding] = []
    if header.syntax in NATIVE:
        samples = _native(header, layout, pixels, findings)
    else:
        samples = _encapsulated(header, layout, pixels, findings)
    if layout.samples == 3:
        grey, colour_findings = grey_of_colour(samples, name=header.name)
        return grey, (*findings, *colour_findings)
    return _cleaned(samples, layout, header.name, findings), tuple(findings)


def _native(header: Header, layout: Layout, pixels: PixelBytes, findings: list[Finding]) -> NDArray[Any]:
    if pixels.length is None:
        raise Contradiction(
            f"the transfer syntax is {header.syntax_name}, but the pixel data is packed in fragments.",
            where=header.name,
            next_step=_AGAIN,
        )
    there = min(pixels.length, len(header.content) - pixels.start)
    wide = layout.bits_allocated == 16
    in_swapped_words = not wide and not pixels.little_endian and pixels.vr == "OW"
    needed = layout.bytes_needed
    needed += needed % 2 if in_swapped_words else 0
    if there < needed:
        raise Unreadable(
            f"the pixel data is cut short: {there:,} of {needed:,} bytes are there.",
            where=header.name,
            next_step="Copy or export the film again.",
        )
    if pixels.length > needed + needed % 2:
        findings.append(
            remark(
                "film-surplus-bytes",
                f"{header.name}: {pixels.length:,} pixel bytes, {needed:,} are needed; the first are used.",
            )
        )
    dtype = np.dtype(("<" if pixels.little_endian else ">") + "u2") if wide else np.dtype(np.uint8)
    count = layout.bytes_needed // dtype.itemsize
    flat: NDArray[Any]
    if in_swapped_words:
        # Bytes travel in 16-bit words of the other byte order: neighbours are swapped.
        words = np.frombuffer(header.content, dtype=">u2", count=needed // 2, offset=pixels.start)
        flat = words.astype("<u2").view(np.uint8)[:count]
    else:
        flat = np.frombuffer(header.content, dtype=dtype, count=count, offset=pixels.start)
    if not flat.dtype.isnative or not flat.flags.aligned:
        flat = flat.astype(flat.dtype.newbyteorder("="))
    if layout.samples == 1:
        return flat.reshape(layout.rows, layout.columns)
    if layout.planar:
        colour = np.moveaxis(flat.reshape(3, layout.rows, layout.columns), 0, 2)
    else:
        colour = flat.reshape(layout.rows, layout.columns, 3)
    return _rgb_of_ybr(colour) if layout.photometric == "YBR_FULL" else colour


def _rgb_of_ybr(colour: NDArray[Any]) -> NDArray[Any]:
    from PIL import Image

    return np.asarray(Image.fromarray(np.ascontiguousarray(colour), "YCbCr").convert("RGB"))


def _encapsulated(
    header: Header, layout: Layout, pixels: PixelBytes, findings: list[Finding]
) -> NDArray[Any]:
    name = header.name
    if pixels.length is not None:
        raise Contradiction(
            f"the transfer syntax is {header.syntax_name}, but the pixel data is not packed in fragments.",
            where=name,
            next_step=_AGAIN,
        )
    known = header.syntax == RUN_LENGTH or header.syntax in PACKINGS
    if not known:
        raise Unreadable(
            f"the picture is packed as {header.syntax_name} ({header.syntax}), which is not read.",
            where=name,
            next_step="Export the film uncompressed.",
        )
    packed = Packed(
        content=_joined(header, pixels),
        rows=layout.rows,
        columns=layout.columns,
        bits_allocated=layout.bits_allocated,
        samples=layout.samples,
        syntax=header.syntax,
        syntax_name=header.syntax_name,
    )
    require_size(layout.rows, layout.columns, len(packed.content), name=name)
    if header.syntax == RUN_LENGTH:
        if layout.samples != 1:
            raise not_read_as(layout.photometric, layout.samples, name)
        return unpacked(packed, name=name)
    stream = _checked_stream(packed, layout, name)
    samples = unpacked(packed, decoder_for(stream.packing, stream.bits), name=name)
    expected = (layout.rows, layout.columns) if layout.samples == 1 else (layout.rows, layout.columns, 3)
    if samples.shape != expected:
        raise Contradiction(
            f"the unpacked picture has the shape {samples.shape}, the header says {expected}.",
            where=name,
            next_step=_AGAIN,
        )
    return _agreed(samples, stream, layout, name, findings) if layout.samples == 1 else samples


def _joined(header: Header, pixels: PixelBytes) -> bytes:
    from pydicom.encaps import generate_fragments, parse_basic_offsets

    source = BytesIO(header.content)
    source.seek(pixels.start)
    order = "<" if pixels.little_endian else ">"
    parts: list[bytes] = []
    try:
        parse_basic_offsets(source, endianness=order)
        for part in generate_fragments(source, endianness=order):
            parts.append(part)
            if len(parts) > limits.MAX_FRAGMENTS:
                raise Unreadable(
                    f"the picture is packed in more than {limits.MAX_FRAGMENTS:,} fragments.",
                    where=header.name,
                    next_step=_AGAIN,
                )
    except LimbwrightError:
        raise
    except Exception as reason:  # a foreign parser on damaged bytes may raise anything
        raise Unreadable(
            f"the fragments of the packed picture are damaged ({str(reason)[:120]}).",
            where=header.name,
            next_step="Copy or export the film again.",
        ) from reason
    if not parts:
        raise Missing(
            "the packed picture is empty.", where=header.name, next_step="Copy or export the film again."
        )
    return parts[0] if len(parts) == 1 else b"".join(parts)


def _checked_stream(packed: Packed, layout: Layout, name: str) -> Codestream:
    """What the packed picture declares, refused where it contradicts the header or is cut short."""
    stream = codestream_of(packed.content)
    if stream is None or stream.packing not in PACKINGS[packed.syntax]:
        found = "something else" if stream is None else stream.packing
        raise Contradiction(
            f"the transfer syntax is {packed.syntax_name}, but the packed picture is {found}.",
            where=name,
            next_step=_AGAIN,
        )
    if (stream.rows, stream.columns, stream.components) != (layout.rows, layout.columns, layout.samples):
        raise Contradiction(
            f"the header says {layout.rows} rows, {layout.columns} columns, {layout.samples} channel(s); the "
            f"packed picture says {stream.rows}, {stream.columns}, {stream.components}.",
            where=name,
            next_step=_AGAIN,
        )
    if layout.samples == 3 and (stream.packing is not Packing.JPEG or stream.bits != 8):
        raise not_read_as(layout.photometric, layout.samples, name)
    if stream.bits > layout.bits_allocated or stream.tiles > limits.MAX_TILES:
        raise Contradiction(
            f"the packed picture has {stream.bits} bits in {stream.tiles} tile(s); the header allocates "
            f"{layout.bits_allocated} bits, and at most {limits.MAX_TILES} tiles are read.",
            where=name,
            next_step=_AGAIN,
        )
    if not ends_whole(packed.content):
        raise Unreadable(
            f"the {packed.syntax_name} picture is cut short: its end mark is missing.",
            where=name,
            next_step="Copy or export the film again.",
        )
    return stream


def _agreed(
    samples: NDArray[Any], stream: Codestream, layout: Layout, name: str, findings: list[Finding]
) -> NDArray[Any]:
    """Samples as 8- or 16-bit patterns; where sign or depth differ from the header, said in a finding."""
    signed = samples.dtype.kind == "i"
    says_sign = stream.packing is Packing.JPEG_2000
    if stream.bits != layout.bits_stored or (says_sign and signed != layout.signed):
        findings.append(
            remark(
                "film-codestream-disagrees",
                f"{name}: the header says {layout.bits_stored} bits, {_sign(layout.signed)}; the packed "
                f"picture says {stream.bits} bits, {_sign(signed)}.",
            )
        )
    patterns: NDArray[Any] = samples.astype(np.uint16, copy=False) if layout.bits_allocated == 16 else samples
    if layout.signed and says_sign and not signed and stream.bits < layout.bits_allocated:
        # JPEG 2000 that calls two's complement plain numbers: the sign bit is carried up from its own depth.
        up = layout.bits_allocated - stream.bits
        kind = np.int16 if layout.bits_allocated == 16 else np.int8
        carried: NDArray[Any] = np.right_shift(np.left_shift(patterns, up).view(kind), up)
        return carried
    return patterns


def _cleaned(samples: NDArray[Any], layout: Layout, name: str, findings: list[Finding]) -> NDArray[Any]:
    """Sign carried up, bits above the stored depth cleared, unused low bits shifted out."""
    allocated, stored = layout.bits_allocated, layout.bits_stored
    if layout.signed:
        kind = np.dtype(np.int16 if allocated == 16 else np.int8)
        numbers: NDArray[Any] = samples.view(kind)
        if layout.shift or stored < allocated:
            low, high = -(1 << (stored - 1)), (1 << (stored - 1)) - 1
            if layout.shift or int(numbers.min()) < low or int(numbers.max()) > high:
                numbers = np.right_shift(
                    np.left_shift(numbers, allocated - stored - layout.shift), allocated - stored
                )
        return numbers.astype(np.int16, copy=False)
    plain: NDArray[Any] = samples.view(np.uint16 if allocated == 16 else np.uint8)
    if layout.shift:
        plain = np.right_shift(plain, layout.shift)
    if stored < allocated and int(plain.max()) >= 1 << stored:
        findings.append(
            remark(
                "film-bits-masked", f"{name}: bits above the {stored} stored ones are set and were cleared."
            )
        )
        plain = np.bitwise_and(plain, (1 << stored) - 1)
    return plain


def _sign(signed: bool) -> str:
    return "signed" if signed else "unsigned"
