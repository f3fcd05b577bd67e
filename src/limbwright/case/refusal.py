"""Turns the validator's errors into problems a reader can mend."""

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from difflib import get_close_matches
from enum import Enum
from types import UnionType
from typing import TYPE_CHECKING, Any, Union, get_args, get_origin, get_type_hints

from limbwright.case.case import Case
from limbwright.case.problem import CARRIED, Problem, UnreadableCase
from limbwright.case.text import child_path, shown
from limbwright.error import LimbwrightError

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

Loc = tuple[str | int, ...]

UNIT_WORDS = {
    "mm": "millimetres",
    "deg": "degrees",
    "px": "pixels",
    "kg": "kilograms",
    "days": "days",
    "years": "years",
    "gpa": "gigapascals",
}
CONVERSIONS = {
    ("cm", "mm"): "multiply centimetres by 10",
    ("m", "mm"): "multiply metres by 1000",
    ("in", "mm"): "multiply inches by 25.4",
    ("inch", "mm"): "multiply inches by 25.4",
    ("rad", "deg"): "multiply radians by 57.29578",
    ("degrees", "deg"): "the number stays as it is",
    ("lb", "kg"): "multiply pounds by 0.45359237",
    ("months", "years"): "divide months by 12",
    ("weeks", "days"): "multiply weeks by 7",
    ("px", "mm"): "multiply pixels by the film's scale in mm/px",
    ("mm", "px"): "divide millimetres by the film's scale in mm/px",
}
EXPECTED = {
    "float_type": "expected a number",
    "float_parsing": "expected a number",
    "int_type": "expected a whole number",
    "int_parsing": "expected a whole number",
    "int_from_float": "expected a whole number",
    "string_type": "expected a text in quotes",
    "bool_type": "expected true or false",
    "date_type": "expected a day as text, YYYY-MM-DD",
    "date_parsing": "expected a day as YYYY-MM-DD",
    "date_from_datetime_parsing": "expected a day as YYYY-MM-DD",
    "date_from_datetime_inexact": "expected a day as YYYY-MM-DD, without a time",
    "tuple_type": "expected an array",
    "dict_type": "expected an object",
    "mapping_type": "expected an object",
    "dataclass_type": "expected an object",
    "dataclass_exact_type": "expected an object",
}
_FIELD_PATH = re.compile(r"[a-z_][a-z0-9_]*(?:\[\d+\]|\.[A-Za-z_][A-Za-z0-9_]*)*")
_QUANTITY_TEXT = re.compile(r"\s*[-+]?\d+(?:[.,]\d+)?\s*[A-Za-z°\"']*\s*")


def problems_of(error: "ValidationError", document: object) -> tuple[Problem, ...]:
    """The problems in a refused document, in the order of the file's shape, as many as an error carries.

    Parameters
    ----------
    error : ValidationError
        What the validator of `Case` raised.
    document : object
        The parsed document, to quote values from.
    """
    found: list[Problem] = []
    for one in error.errors(include_url=False)[:CARRIED]:
        cause = one.get("ctx", {}).get("error")
        if isinstance(cause, UnreadableCase):
            found += (_with_value(problem, document) for problem in cause.problems)
        elif isinstance(cause, LimbwrightError):
            found.append(_from_value(one["loc"], cause, document))
        else:
            found.append(_from_shape(one, document))
    return tuple(found)


def json_path(loc: Loc) -> str:
    """JSON path of a place in the document."""
    path = "$"
    for step in loc:
        path = child_path(path, step)
    return path


def _with_value(problem: Problem, document: object) -> Problem:
    steps = [int(step[1:-1]) if step.startswith("[") else step for step in _steps(problem.path)]
    return Problem(
        path=problem.path,
        value=_quoted(document, tuple(steps)),
        found=problem.found,
        next_step=problem.next_step,
    )


def _steps(path: str) -> list[str]:
    return re.findall(r"\[\d+\]|[A-Za-z_][A-Za-z0-9_]*", path.removeprefix("$"))


def _quoted(document: object, loc: Loc) -> str:
    value = document
    for step in loc:
        try:
            value = value[step]  # type: ignore[index]  # any shape: what does not fit is quoted as absent
        except (KeyError, IndexError, TypeError):
            return ""
    return shown(value)


def _from_value(loc: Loc, cause: LimbwrightError, document: object) -> Problem:
    """A refusal by the value itself; its `where` names the field when it starts with one of its own."""
    field = _FIELD_PATH.fullmatch(cause.where)
    names = _fields_at(loc)
    if field and _steps(cause.where)[0] in names:
        inner = tuple(int(s[1:-1]) if s.startswith("[") else s for s in _steps(cause.where))
        return Problem(
            path=json_path((*loc, *inner)),
            value=_quoted(document, (*loc, *inner)),
            found=cause.found,
            next_step=cause.next_step,
        )
    value = _quoted(document, loc)
    return Problem(
        path=json_path(loc),
        value="" if value.startswith("{") else value,
        found=f"{cause.where}: {cause.found}" if cause.where else cause.found,
        next_step=cause.next_step,
    )


def _from_shape(one: "ErrorDetails", document: object) -> Problem:
    loc: Loc = one["loc"]
    kind = one["type"]
    if kind in {"unexpected_keyword_argument", "extra_forbidden"}:
        return _unknown_key(loc, document)
    if loc and loc[-1] == "[key]":
        known = _keys_at(loc[:-2])
        return Problem(
            path=json_path(loc[:-1]),
            value=_quoted(document, loc[:-1]),
            found="this name is not known here.",
            next_step=_nearest(str(loc[-2]), known),
        )
    if kind == "missing" or kind.startswith("missing_"):
        return Problem(
            path=json_path(loc),
            value="",
            found="this is required and not there.",
            next_step=f"Add it: {_meaning(loc)}",
        )
    expected, step = _expectation(one, loc)
    return Problem(path=json_path(loc), value=_quoted(document, loc), found=expected, next_step=step)


def _expectation(one: "ErrorDetails", loc: Loc) -> tuple[str, str]:
    kind = one["type"]
    value = one["input"]
    if kind == "enum":
        words = _keys_at(loc) or tuple(re.findall(r"'([^']*)'", one["ctx"]["expected"]))
        expected = f"expected one of {', '.join(words)}."
        if isinstance(value, str):
            return expected, _nearest(value, words)
        return expected, "Write one of these words in quotes."
    expected = EXPECTED.get(kind, one["msg"][:1].lower() + one["msg"][1:])
    meaning = _meaning(loc)
    if kind == "float_type" and isinstance(value, str) and _QUANTITY_TEXT.fullmatch(value):
        return f"{expected}, found a text.", f"Write the number alone, without quotes or unit. {meaning}"
    if value is None:
        return f"{expected}.", "Leave out what is not known, or give it."
    return f"{expected}.", f"It means: {meaning}" if meaning else "See the published schema."


def _unknown_key(loc: Loc, document: object) -> Problem:
    key = str(loc[-1])
    known = tuple(_fields_at(loc[:-1]))
    return Problem(
        path=json_path(loc),
        value=_quoted(document, loc),
        found="this key is not known here.",
        next_step=_unit_hint(key, known) or _nearest(key, known),
    )


def _unit_hint(key: str, known: tuple[str, ...]) -> str:
    stem, _, unit = key.rpartition("_")
    for name in known:
        name_stem, _, name_unit = name.rpartition("_")
        if name_unit not in UNIT_WORDS:
            continue
        if stem and stem == name_stem and (unit, name_unit) in CONVERSIONS:
            how = CONVERSIONS[unit, name_unit]
            return f"Did you mean {name}? Values are in {UNIT_WORDS[name_unit]}: {how}."
        if key == name_stem:
            return f"Did you mean {name}? Values are in {UNIT_WORDS[name_unit]}."
    return ""


def _nearest(word: str, known: tuple[str, ...]) -> str:
    by_letters = {name.lower(): name for name in known}
    exact = [by_letters[word.lower()]] if word.lower() in by_letters else []
    near = exact or [
        by_letters[name] for name in get_close_matches(word.lower(), by_letters, n=2, cutoff=0.6)
    ]
    if not near:
        listed = ", ".join(known[:12]) + (", …" if len(known) > 12 else "")
        return f"Remove it, or use one of: {listed}." if known else "Remove it."
    unit = near[0].rpartition("_")[2]
    units = f" Values are in {UNIT_WORDS[unit]}." if unit in UNIT_WORDS else ""
    return f"Did you mean {' or '.join(near)}?{units}"


def _meaning(loc: Loc) -> str:
    """What the schema says about the field at this place."""
    from limbwright.case.schema import description_of

    owner = _type_at(loc[:-1])
    if isinstance(owner, type) and is_dataclass(owner) and isinstance(loc[-1], str):
        return description_of(owner, loc[-1])
    return ""


def _fields_at(loc: Loc) -> dict[str, Any]:
    owner = _type_at(loc)
    if not (isinstance(owner, type) and is_dataclass(owner)):
        return {}
    hints = get_type_hints(owner)
    return {field.name: hints[field.name] for field in fields(owner)}


def _keys_at(loc: Loc) -> tuple[str, ...]:
    """Words a mapping's keys, or an enumeration, may take at this place."""
    kind = _type_at(loc)
    if _is_mapping(kind):
        kind = get_args(kind)[0]
    return tuple(str(word) for word in kind) if isinstance(kind, type) and issubclass(kind, Enum) else ()


def _is_mapping(kind: Any) -> bool:
    origin = get_origin(kind)
    return isinstance(origin, type) and issubclass(origin, Mapping)


def _type_at(loc: Loc) -> Any:
    kind: Any = Case
    for step in loc:
        if isinstance(kind, type) and is_dataclass(kind):
            kind = get_type_hints(kind).get(str(step))
        elif get_origin(kind) is tuple:
            items = get_args(kind)
            kind = (
                items[0]
                if len(items) == 2 and items[1] is Ellipsis
                else items[min(int(step), len(items) - 1)]
            )
        elif _is_mapping(kind):
            kind = get_args(kind)[1]
        if get_origin(kind) in {Union, UnionType}:
            kind = next(one for one in get_args(kind) if one is not type(None))
    return kind
