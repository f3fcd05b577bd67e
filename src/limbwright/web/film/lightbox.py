"""Decoded films and rendered tiles, each kept in memory up to a bound, the least used given up first."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Generic, TypeVar

from limbwright.error import Missing
from limbwright.film.reading import ReadFacts, Window, read_facts, read_picture
from limbwright.store.films import FilmShelf
from limbwright.web.film.pyramid import Pyramid

JPEG_QUALITY = 90
REMEMBERED_HEADERS = 500
K = TypeVar("K")
V = TypeVar("V")


class BoundedCache(Generic[K, V]):
    """The values used last, up to a number of bytes."""

    def __init__(self, most_bytes: int) -> None:
        self._most = most_bytes
        self._held: OrderedDict[K, tuple[V, int]] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def get(self, key: K) -> V | None:
        """A value that is held, now the one used last."""
        with self._lock:
            found = self._held.get(key)
            if found is None:
                return None
            self._held.move_to_end(key)
            return found[0]

    def put(self, key: K, value: V, size: int) -> None:
        """Hold a value; one larger than the bound is held alone."""
        with self._lock:
            old = self._held.pop(key, None)
            self._bytes += size - (old[1] if old else 0)
            self._held[key] = (value, size)
            while self._bytes > self._most and len(self._held) > 1:
                _, (_, gone) = self._held.popitem(last=False)
                self._bytes -= gone

    @property
    def bytes_held(self) -> int:
        """Memory of everything held."""
        return self._bytes


class KeyedLocks:
    """One lock for each key in use, so that a film is decoded once even when many tiles are asked for."""

    def __init__(self) -> None:
        self._locks: dict[str, tuple[threading.Lock, int]] = {}
        self._guard = threading.Lock()

    def run(self, key: str, work: Callable[[], V]) -> V:
        """Do the work while nobody else does any under the key."""
        with self._guard:
            lock, users = self._locks.get(key, (threading.Lock(), 0))
            self._locks[key] = (lock, users + 1)
        try:
            with lock:
                return work()
        finally:
            with self._guard:
                lock, users = self._locks[key]
                if users == 1:
                    del self._locks[key]
                else:
                    self._locks[key] = (lock, users - 1)


@dataclass(frozen=True, slots=True)
class TileKey:
    """Everything a tile depends on."""

    sha256: str
    level: int
    x: int
    y: int
    window: Window | None


class Lightbox:
    """Films by their hash, ready to be shown."""

    def __init__(self, shelf: FilmShelf, *, decoded_bytes: int, tile_bytes: int) -> None:
        self._shelf = shelf
        self._films: BoundedCache[str, Pyramid] = BoundedCache(decoded_bytes)
        self._tiles: BoundedCache[TileKey, bytes] = BoundedCache(tile_bytes)
        self._facts: BoundedCache[str, ReadFacts] = BoundedCache(REMEMBERED_HEADERS)
        self._decoding = KeyedLocks()

    def pyramid(self, sha256: str) -> Pyramid:
        """A film, decoded when it is not in memory. Raises LimbwrightError."""
        held = self._films.get(sha256)
        return held if held is not None else self._decoding.run(sha256, lambda: self._decoded(sha256))

    def _decoded(self, sha256: str) -> Pyramid:
        held = self._films.get(sha256)
        if held is not None:
            return held
        pyramid = Pyramid(read_picture(self._content(sha256), name=f"film {sha256[:12]}…"))
        self._films.put(sha256, pyramid, pyramid.bytes_at_most)
        return pyramid

    def facts(self, sha256: str) -> ReadFacts:
        """What a film's header says; read once while it is remembered. Raises LimbwrightError."""
        held = self._facts.get(sha256)
        if held is None:
            held = read_facts(self._content(sha256), name=f"film {sha256[:12]}…")
            self._facts.put(sha256, held, 1)
        return held

    def _content(self, sha256: str) -> bytes:
        """The film's bytes as they were stored; its name is their digest, checked when it came in."""
        try:
            return self._shelf.path(sha256).read_bytes()
        except FileNotFoundError:
            raise Missing(
                "this film is not in the store.",
                where=f"film {sha256[:12]}…",
                next_step="Add the original film again, or restore it from a backup.",
            ) from None

    def tile(self, key: TileKey) -> bytes:
        """A tile as JPEG. Raises LimbwrightError."""
        from PIL import Image

        held = self._tiles.get(key)
        if held is not None:
            return held
        grey = self.pyramid(key.sha256).tile(key.level, key.x, key.y, key.window)
        out = BytesIO()
        Image.fromarray(grey).save(out, "JPEG", quality=JPEG_QUALITY)
        jpeg = out.getvalue()
        self._tiles.put(key, jpeg, len(jpeg))
        return jpeg
