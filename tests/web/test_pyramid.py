import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.film.reading import FileKind, HeaderFacts, Picture, ReadFilm, Window
from limbwright.web.film.lightbox import BoundedCache, KeyedLocks
from limbwright.web.film.pyramid import TILE_PX, Pyramid, halved, max_level_of


def film(values: np.ndarray, padding: tuple[int, int] | None = None) -> ReadFilm:
    picture = Picture(
        values=values,
        bits_stored=14,
        inverted=False,
        windows=(Window(centre=128, width=256),),
        padding=padding,
    )
    facts = HeaderFacts(
        kind=FileKind.PNG, rows=values.shape[0], columns=values.shape[1], bits_stored=14, photometric="L"
    )
    return ReadFilm(picture=picture, facts=facts, findings=())


@given(st.integers(1, 9), st.integers(1, 9), st.sampled_from([np.uint8, np.uint16, np.int16]))
@settings(max_examples=60, deadline=None)
def test_a_half_is_the_mean_of_two_by_two(rows: int, columns: int, dtype: type) -> None:
    info = np.iinfo(dtype)
    values = np.random.Generator(np.random.PCG64(rows * 10 + columns)).integers(
        info.min, info.max, (rows, columns), dtype=dtype, endpoint=True
    )
    half = halved(values)
    assert half.dtype == dtype
    assert half.shape == (-(-rows // 2), -(-columns // 2))
    padded = np.pad(values.astype(float), ((0, rows % 2), (0, columns % 2)), mode="edge")
    mean = padded.reshape(half.shape[0], 2, half.shape[1], 2).mean(axis=(1, 3))
    assert np.abs(half - mean).max() <= 0.5


def test_level_zero_fits_into_one_tile_and_the_last_is_the_film() -> None:
    for columns, rows in ((10, 10), (512, 512), (513, 10), (3000, 9000), (1, 40_000)):
        top = max_level_of(columns, rows)
        assert max(columns, rows) / 2**top <= TILE_PX
        assert top == 0 or max(columns, rows) / 2 ** (top - 1) > TILE_PX


def test_tiles_cover_every_level_without_gap_or_overlap() -> None:
    values = np.random.Generator(np.random.PCG64(3)).integers(0, 255, (1100, 700), dtype=np.uint8)
    pyramid = Pyramid(film(values))
    for level in range(pyramid.max_level + 1):
        columns, rows = pyramid.size(level)
        seen = np.zeros((rows, columns), dtype=int)
        for y in range(-(-rows // TILE_PX)):
            for x in range(-(-columns // TILE_PX)):
                tile = pyramid.tile(level, x, y, None)
                seen[
                    y * TILE_PX : y * TILE_PX + tile.shape[0], x * TILE_PX : x * TILE_PX + tile.shape[1]
                ] += 1
        assert (seen == 1).all()


def test_padding_is_not_averaged_into_the_picture() -> None:
    values = np.full((1400, 1400), 200, dtype=np.uint16)
    values[:, 701:] = 0
    pyramid = Pyramid(film(values, padding=(0, 0)))
    assert set(np.unique(pyramid.picture(0).values)) <= {0, 200}


@pytest.mark.parametrize(("level", "x", "y"), [(-1, 0, 0), (5, 0, 0), (0, 1, 0), (0, 0, -1)])
def test_a_tile_that_is_not_there_is_refused(level: int, x: int, y: int) -> None:
    with pytest.raises(OutOfRange, match=r"level|tile"):
        Pyramid(film(np.zeros((600, 600), dtype=np.uint8))).tile(level, x, y, None)


def test_a_cache_keeps_what_was_used_last_within_its_bytes() -> None:
    cache: BoundedCache[str, str] = BoundedCache(10)
    cache.put("a", "A", 4)
    cache.put("b", "B", 4)
    assert cache.get("a") == "A"
    cache.put("c", "C", 4)
    assert (cache.get("a"), cache.get("b"), cache.get("c")) == ("A", None, "C")
    assert cache.bytes_held == 8
    cache.put("large", "L", 50)
    assert cache.get("large") == "L"
    assert cache.bytes_held == 50


def test_keyed_locks_are_given_back() -> None:
    locks = KeyedLocks()
    assert locks.run("a", lambda: 3) == 3
    with pytest.raises(ZeroDivisionError, match="division"):
        locks.run("a", lambda: 1 // 0)
    assert locks.run("a", lambda: 4) == 4
    assert locks._locks == {}
