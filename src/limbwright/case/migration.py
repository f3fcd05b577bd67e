"""Older case files are brought up to date step by step; newer ones are refused by name."""

from collections.abc import Callable, Mapping
from typing import Any

from limbwright.case.case import SCHEMA_VERSION
from limbwright.error import Missing, Unreadable

Document = dict[str, Any]
Migration = Callable[[Document], Document]


def _one_osteotomy_as_it_was(document: Document) -> Document:
    """Version 2 can tell two osteotomies of one bone; a document of version 1 tells one, which stays."""
    return document


MIGRATIONS: Mapping[int, Migration] = {1: _one_osteotomy_as_it_was}
"""Version n → function that turns a document of version n into one of n + 1. Version 1 is the first."""


def up_to_date(
    document: Document,
    *,
    where: str,
    migrations: Mapping[int, Migration] = MIGRATIONS,
    current: int = SCHEMA_VERSION,
) -> Document:
    """The document in the current shape.

    Parameters
    ----------
    document : dict
        A parsed case file of any version; it is not changed.
    where : str
        Name of the file, for messages.
    migrations : mapping
        Steps by the version they start from.
    current : int
        Version to arrive at.

    Raises
    ------
    Missing
        If the document does not say its version.
    Unreadable
        If the version is unknown, or newer than this program.
    """
    if "schema_version" not in document:
        raise Missing(
            "the document does not say its version.",
            where=f"{where}, $.schema_version",
            next_step=f'Add "schema_version": {current} if the file follows the published schema.',
        )
    version = document["schema_version"]
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise Unreadable(
            f"version {version!r}, expected a whole number from 1 to {current}.",
            where=f"{where}, $.schema_version",
            next_step="Check that this is a case file.",
        )
    if version > current:
        raise Unreadable(
            f"version {version}; this program reads versions up to {current}.",
            where=f"{where}, $.schema_version",
            next_step="Update this program; the file was left as it is.",
        )
    while version < current:
        document = {**migrations[version](document), "schema_version": version + 1}
        version += 1
    return document
