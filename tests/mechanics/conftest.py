"""Constructs shared by the tests of this room; invented geometry, no implant's."""

from collections.abc import Callable
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest

from limbwright.mechanics import (
    BlockingScrew,
    Construct,
    Fragment,
    LockingScrew,
    NailBeam,
    ScrewDirection,
    Side,
    straight_canal,
)

ENTRY, MOVING = Fragment.ENTRY, Fragment.MOVING
AP, ML = ScrewDirection.ANTEROPOSTERIOR, ScrewDirection.MEDIOLATERAL


def pytest_configure() -> None:
    """Compiled kernels call each other across files; a cache older than any of them is stale."""
    room = Path(str(resources.files("limbwright") / "mechanics"))
    newest = max(source.stat().st_mtime for source in room.glob("*_kernel.py"))
    for index in (room / "__pycache__").glob("*.nbi"):
        if index.stat().st_mtime < newest:
            index.unlink()


def nail(**changes: float) -> NailBeam:
    """Solid titanium nail 300 mm long, 10.7 mm thick, with 30 mm of 8 mm rod."""
    base = NailBeam(
        length_mm=300.0, exposed_rod_mm=30.0, thick_diameter_mm=10.7, thin_diameter_mm=8.0, modulus_gpa=110.0
    )
    return replace(base, **changes)


def locks() -> tuple[LockingScrew, ...]:
    """One screw in each direction in each fragment."""
    places = ((ENTRY, 35.0, AP), (ENTRY, 20.0, ML), (MOVING, 280.0, AP), (MOVING, 292.0, ML))
    return tuple(LockingScrew(fragment=f, depth_mm=z, direction=d, play_mm=0.15) for f, z, d in places)


def construct(
    osteotomy_mm: float = 150.0, canal_mm: float = 14.0, *screws: BlockingScrew, **changes: object
) -> Construct:
    """The study's default case: straight canal, wall contact from 40 mm on."""
    base = Construct(
        nail=nail(),
        osteotomy_depth_mm=osteotomy_mm,
        entry_canal=straight_canal(diameter_mm=canal_mm, start_depth_mm=40.0, end_depth_mm=osteotomy_mm),
        moving_canal=straight_canal(diameter_mm=canal_mm, start_depth_mm=osteotomy_mm, end_depth_mm=300.0),
        locking_screws=locks(),
        blocking_screws=screws,
    )
    return replace(base, **changes)  # type: ignore[arg-type]  # tests change one field at a time


def blocker(
    depth_mm: float, side: Side = Side.LATERAL, *, osteotomy_mm: float = 150.0, clearance_mm: float = 0.0
) -> BlockingScrew:
    """A blocking screw in the fragment its depth lies in."""
    fragment = ENTRY if depth_mm < osteotomy_mm else MOVING
    return BlockingScrew(fragment=fragment, depth_mm=depth_mm, side=side, clearance_mm=clearance_mm)


@pytest.fixture(scope="session")
def make() -> Callable[..., Construct]:
    """The default construct with changes."""
    return construct


@pytest.fixture(scope="session")
def screw() -> Callable[..., BlockingScrew]:
    """A blocking screw."""
    return blocker
