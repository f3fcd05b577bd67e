"""A decoded film with its copies at half, quarter, … size, made when they are first asked for.

Neighbouring values are averaged before the window is applied, so that thin cortex and noise shrink honestly.
"""

import threading
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.film.reading import Picture, ReadFilm, Region, Window, grey8

TILE_PX = 512


def max_level_of(columns: int, rows: int) -> int:
    """Level at which a film has its own size; level 0 fits into one tile."""
    level = 0
    while max(columns, rows) > TILE_PX << level:
        level += 1
    return level


def halved(values: NDArray[Any]) -> NDArray[Any]:
    """Means of two by two pixels; an odd last row or column counts twice."""
    rows, columns = values.shape
    if rows % 2:
        values = np.concatenate([values, values[-1:]], axis=0)
    if columns % 2:
        values = np.concatenate([values, values[:, -1:]], axis=1)
    wide = np.int32 if values.dtype == np.int16 else np.uint32 if values.dtype == np.uint16 else np.uint16
    total: NDArray[Any] = values[0::2, 0::2].astype(wide)
    np.add(total, values[1::2, 0::2], out=total)
    np.add(total, values[0::2, 1::2], out=total)
    np.add(total, values[1::2, 1::2], out=total)
    np.add(total, 2, out=total)
    mean: NDArray[Any] = np.right_shift(total, 2, out=total).astype(values.dtype)
    return mean


class Pyramid:
    """One film at all sizes."""

    def __init__(self, film: ReadFilm) -> None:
        self.film = film
        self.max_level = max_level_of(film.picture.columns, film.picture.rows)
        self._levels: dict[int, Picture] = {self.max_level: film.picture}
        self._lock = threading.Lock()

    @property
    def bytes_at_most(self) -> int:
        """Memory once every size has been made."""
        return int(film_bytes(self.film.picture) * 4 / 3) + 1

    def picture(self, level: int) -> Picture:
        """The film at a level."""
        with self._lock:
            nearest = min(have for have in self._levels if have >= level)
            while nearest > level:
                finer = self._levels[nearest]
                nearest -= 1
                # Padding marks pixels without picture; averaging them with others would make up values.
                values = halved(finer.values) if finer.padding is None else finer.values[::2, ::2]
                self._levels[nearest] = replace(finer, values=values)
            return self._levels[level]

    def size(self, level: int) -> tuple[int, int]:
        """Columns and rows at a level."""
        shrink = 1 << (self.max_level - level)
        picture = self.film.picture
        return -(-picture.columns // shrink), -(-picture.rows // shrink)

    def tile(self, level: int, x: int, y: int, window: Window | None) -> NDArray[np.uint8]:
        """Grey levels of one tile, row 0 at the top.

        Raises
        ------
        OutOfRange
            When there is no such tile.
        """
        if not 0 <= level <= self.max_level:
            raise OutOfRange(
                f"level {level}, expected 0 to {self.max_level}.",
                where="film tile",
                next_step="Ask for a level that the film has.",
            )
        columns, rows = self.size(level)
        if not (0 <= x * TILE_PX < columns and 0 <= y * TILE_PX < rows):
            raise OutOfRange(
                f"tile {x}, {y} of level {level}, which has {-(-columns // TILE_PX)} by "
                f"{-(-rows // TILE_PX)}.",
                where="film tile",
                next_step="Ask for a tile that the film has.",
            )
        region = Region(top=y * TILE_PX, left=x * TILE_PX, rows=TILE_PX, columns=TILE_PX)
        return grey8(self.picture(level), window, region=region)


def film_bytes(picture: Picture) -> int:
    """Memory of a decoded film."""
    return int(picture.values.nbytes)
