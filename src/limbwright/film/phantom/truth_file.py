"""The truth of a film as a JSON document, to lie beside its DICOM file."""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np

from limbwright.film.phantom.films import PhantomFilm

FORMAT = "limbwright phantom truth 1"
"""Name and version of the document."""


def _plain(value: Any) -> Any:
    """Value as JSON knows it; numbers keep four decimals in pixels and millimetres, nine otherwise."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return np.round(value.astype(float), 4).tolist()
    return round(value, 9) if isinstance(value, float) else value


def truth_json(film: PhantomFilm) -> str:
    """Everything known about a film: landmarks, walls, angles, scales, circles, set-up.

    Field names are those of `Truth` and `XraySetup` and carry their units; points in pixels are column and
    row, pixel centres at whole numbers from the top left.
    """
    document = {
        "format": FORMAT,
        "note": "Synthetic film of an invented patient.",
        "setup": _plain(film.setup),
        "truth": _plain(film.truth),
    }
    return json.dumps(document, indent=1, allow_nan=False)
