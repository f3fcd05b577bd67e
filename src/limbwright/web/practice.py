"""The practice's own numbers and hardware, read from the store once per version."""

import threading
from typing import Any

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.reading import catalogue_from_toml
from limbwright.implant.shipped import shipped_catalogue
from limbwright.practice.document import profile_from_toml
from limbwright.practice.profile import Profile
from limbwright.practice.setting import settings
from limbwright.store.practice import Kind, PracticeShelf
from limbwright.web.work.state import Practice


class PracticeReader:
    """Profile and catalogue in force; ours while the practice has none of its own."""

    def __init__(self, shelf: PracticeShelf) -> None:
        self._shelf = shelf
        self._read: dict[Kind, tuple[int, Any]] = {}
        self._lock = threading.Lock()

    def profile(self) -> tuple[int, Profile]:
        """Version and practice profile; version 0 with our defaults before the first change."""
        return self._current(Kind.PROFILE, Profile, profile_from_toml)

    def catalogue(self) -> tuple[int, Catalogue]:
        """Version and hardware catalogue; version 0 with the shipped, invented one before any change."""
        return self._current(Kind.CATALOGUE, shipped_catalogue, catalogue_from_toml)

    def both(self) -> Practice:
        """Everything planning needs of the practice."""
        profile_version, profile = self.profile()
        catalogue_version, catalogue = self.catalogue()
        return Practice(
            profile=profile,
            catalogue=catalogue,
            profile_version=profile_version,
            catalogue_version=catalogue_version,
        )

    def _current(self, kind: Kind, ours: Any, read: Any) -> tuple[int, Any]:
        document = self._shelf.current(kind)
        number = 0 if document is None else document.version.number
        with self._lock:
            held = self._read.get(kind)
        if held is not None and held[0] == number:
            return held
        found = (number, ours() if document is None else read(document.text))
        with self._lock:
            self._read[kind] = found
        return found


def profile_plain(version: int, profile: Profile) -> dict[str, Any]:
    """The profile as its editor shows it: each setting with meaning, range, default and source."""
    return {
        "version": version,
        "settings": [
            {
                "group": one.group,
                "name": one.name,
                "meaning": one.meaning,
                "unit": one.unit,
                "kind": one.kind.value,
                "value": getattr(profile, one.name),
                "default": one.default,
                "low": one.low,
                "high": one.high,
                "choices": list(one.choices),
                "expected": one.expected(),
                "source": str(one.source),
                "changed": getattr(profile, one.name) != one.default,
            }
            for one in settings()
        ],
    }
