"""DICOM run-length packing: one PackBits segment per byte of a sample, high byte first."""

import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

_HEADER_BYTES = 64


def run_length_decoded(packed: bytes, pixels: int, bytes_a_sample: int, packbits: Any) -> NDArray[np.uint8]:
    """Bytes of the samples, little endian, from a run-length packed grey frame.

    Parameters
    ----------
    packed : bytes
        The frame: 16 unsigned 32-bit words (number of segments and their offsets), then the segments.
    pixels : int
        Samples in the frame.
    bytes_a_sample : int
        1 or 2.
    packbits : callable
        Decoder of one PackBits segment, `packbits(segment, out=size)`.

    Returns
    -------
    (pixels, bytes_a_sample) uint8
        Low byte first.

    Raises
    ------
    ValueError
        When the header or a segment does not fit the frame.

    References
    ----------
    DICOM PS3.5 annex G, RLE lossless compression (layout from memory; checked against two other decoders).
    """
    if len(packed) < _HEADER_BYTES:
        raise ValueError(f"{len(packed)} bytes are too few for its header")
    segments, *offsets = struct.unpack_from("<16L", packed)
    if segments != bytes_a_sample:
        raise ValueError(f"{segments} segments where {bytes_a_sample} are needed")
    starts = offsets[:segments]
    ends = [*starts[1:], len(packed)]
    samples = np.empty((pixels, bytes_a_sample), dtype=np.uint8)
    for index, (start, end) in enumerate(zip(starts, ends, strict=True)):
        if not _HEADER_BYTES <= start < end <= len(packed):
            raise ValueError(f"segment {index + 1} lies outside the frame")
        segment = packbits(packed[start:end], out=pixels)
        if len(segment) != pixels:
            raise ValueError(f"segment {index + 1} holds {len(segment):,} of {pixels:,} samples")
        samples[:, bytes_a_sample - 1 - index] = np.frombuffer(segment, dtype=np.uint8)
    return samples
