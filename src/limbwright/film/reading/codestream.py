"""What a packed picture says about itself, read from its first bytes before any codec sees it.

Codecs trust the packed picture, not the DICOM header around it; a picture that declares another size than
its header is refused here, before memory is taken.
"""

import struct
from dataclasses import dataclass
from enum import StrEnum


class Packing(StrEnum):
    """Family of compression."""

    JPEG = "JPEG"
    JPEG_LOSSLESS = "JPEG lossless"
    JPEG_LS = "JPEG-LS"
    JPEG_2000 = "JPEG 2000"


@dataclass(frozen=True, slots=True, kw_only=True)
class Codestream:
    """Size and depth of a packed picture."""

    packing: Packing
    """Family of compression."""
    rows: int
    """Pixels from top to bottom."""
    columns: int
    """Pixels from left to right."""
    bits: int
    """Bits of depth of the first component."""
    signed: bool
    """Whether samples are signed; only JPEG 2000 can say so."""
    components: int
    """Channels."""
    tiles: int
    """Tiles the picture is cut into; 1 except in JPEG 2000."""


_JPEG_FRAMES = {0xC0: Packing.JPEG, 0xC1: Packing.JPEG, 0xC2: Packing.JPEG, 0xC3: Packing.JPEG_LOSSLESS,
                0xF7: Packing.JPEG_LS}  # fmt: skip
_STANDALONE = {0x01, *range(0xD0, 0xD8)}
_MOST_SEGMENTS = 1000


def codestream_of(packed: bytes) -> Codestream | None:
    """Size and depth that a JPEG, JPEG-LS or JPEG 2000 picture declares; None when it is none of them."""
    if packed[:2] == b"\xff\xd8":
        return _jpeg(packed)
    # In a JP2 box the codestream begins a few hundred bytes in.
    start = packed[:4096].find(b"\xff\x4f\xff\x51")
    boxed = packed[:8] == b"\x00\x00\x00\x0cjP  "
    return _jpeg_2000(packed[start : start + 48]) if start == 0 or (boxed and start > 0) else None


def ends_whole(packed: bytes) -> bool:
    """Whether the packed picture ends with its end mark (JPEG family and JPEG 2000), padding aside."""
    # Files are padded to even length with 00 or FF.
    return packed[-64:].rstrip(b"\x00\xff").endswith(b"\xff\xd9")


def _jpeg(packed: bytes) -> Codestream | None:
    position = 2
    for _ in range(_MOST_SEGMENTS):
        while packed[position : position + 2] == b"\xff\xff":  # fill bytes
            position += 1
        head = packed[position : position + 4]
        if len(head) < 4 or head[0] != 0xFF:
            return None
        marker = head[1]
        if marker in _STANDALONE:
            position += 2
            continue
        (length,) = struct.unpack(">H", head[2:])
        if marker in _JPEG_FRAMES:
            body = packed[position + 4 : position + 10]
            if len(body) < 6:
                return None
            bits, rows, columns, components = struct.unpack(">BHHB", body)
            return Codestream(
                packing=_JPEG_FRAMES[marker],
                rows=rows,
                columns=columns,
                bits=bits,
                signed=False,
                components=components,
                tiles=1,
            )
        if length < 2 or marker in (0xD9, 0xDA):
            return None
        position += 2 + length
    return None


def _jpeg_2000(head: bytes) -> Codestream | None:
    """SIZ segment: reference grid, its offsets, tile size, components."""
    if len(head) < 48:
        return None
    right, bottom, left, top, tile_columns, tile_rows, _, _, components, depth = struct.unpack_from(
        ">8LHB", head, 8
    )
    if not (right > left and bottom > top and tile_columns and tile_rows and components):
        return None
    tiles = -(-right // tile_columns) * -(-bottom // tile_rows)
    return Codestream(
        packing=Packing.JPEG_2000,
        rows=bottom - top,
        columns=right - left,
        bits=(depth & 0x7F) + 1,
        signed=bool(depth & 0x80),
        components=components,
        tiles=tiles,
    )
