import struct

import numpy as np
import pytest

from limbwright.film.reading.run_length import run_length_decoded


def _plain(segment: bytes, *, out: int) -> bytes:
    """Stands in for PackBits: segments are taken as they are."""
    return segment[:out]


def _packed(*segments: bytes) -> bytes:
    offsets = [64 + sum(map(len, segments[:index])) for index in range(len(segments))]
    return struct.pack("<16L", len(segments), *offsets, *[0] * (15 - len(segments))) + b"".join(segments)


def test_the_high_byte_comes_first():
    samples = run_length_decoded(_packed(b"\1\2\3", b"\4\5\6"), 3, 2, _plain)
    assert samples.view("<u2").ravel().tolist() == [0x0104, 0x0205, 0x0306]
    assert np.array_equal(run_length_decoded(_packed(b"\1\2\3"), 3, 1, _plain)[:, 0], [1, 2, 3])


@pytest.mark.parametrize(
    ("packed", "words"),
    [
        (b"short", "too few for its header"),
        (_packed(b"\1\2\3"), "1 segments where 2 are needed"),
        (_packed(b"\1\2\3", b"\4\5"), "segment 2 holds 2 of 3 samples"),
        (struct.pack("<16L", 2, 64, 64, *[0] * 13) + b"abc", "segment 1 lies outside"),
        (struct.pack("<16L", 2, 0, 66, *[0] * 13) + b"abcdef", "segment 1 lies outside"),
        (struct.pack("<16L", 2, 64, 900, *[0] * 13) + b"abcdef", "segment 1 lies outside"),
    ],
)
def test_segments_that_do_not_fit_are_refused(packed, words):
    with pytest.raises(ValueError, match=words):
        run_length_decoded(packed, 3, 2, _plain)
