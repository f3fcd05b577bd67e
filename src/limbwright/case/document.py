"""A case as one JSON document, and back without loss."""

import json
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date
from typing import Any

from limbwright.case.adapter import case_type
from limbwright.case.case import Case
from limbwright.case.checks import missing_landmarks
from limbwright.case.migration import up_to_date
from limbwright.case.problem import UnreadableCase
from limbwright.case.refusal import problems_of
from limbwright.case.text import document_bytes, parsed
from limbwright.error import OutOfRange


def case_from_json(document: str | bytes, *, complete: bool = True, where: str = "case file") -> Case:
    """Read a case.

    Parameters
    ----------
    document : str or bytes
        JSON in UTF-8, at most `limbwright.case.text.LARGEST_DOCUMENT_BYTES`.
    complete : bool
        True to refuse a case on which nothing can be measured yet; False to read one that is still being
        marked.
    where : str
        Name of the file, for messages.

    Returns
    -------
    Case
        Of the same type as one built in code.

    Raises
    ------
    UnreadableCase
        With every problem found: JSON path, value, what was expected, how to mend it.
    Unreadable
        If it is not JSON, too large, nested too deep, or written by a newer program.
    """
    from pydantic import ValidationError

    data = document_bytes(document, where=where)
    tree = parsed(data, where=where)
    current = up_to_date(tree, where=where)
    try:
        case = case_type().validate_json(data if current is tree else json.dumps(current), strict=True)
    except ValidationError as error:
        problems = problems_of(error, current)
        total = max(len(problems), error.error_count())
        raise UnreadableCase(problems, where=where, total=total) from None
    if complete and (missing := missing_landmarks(case.films, case.side)):
        raise UnreadableCase(missing, where=where)
    return case


def case_to_json(case: Case) -> str:
    """Write a case: indented, keys in the order of the published schema, what is absent left out.

    Defaults are written out: a file must not change its meaning when a later version has other defaults.

    Raises
    ------
    OutOfRange
        If the case holds a number that JSON cannot (not a number, infinite).
    """
    try:
        return json.dumps(_plain(case), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    except ValueError:
        raise OutOfRange(
            "the case holds a number that is infinite or not a number.",
            where=f"case {case.id!r}",
            next_step="Correct the value before the case is written.",
        ) from None


def _plain(value: object) -> Any:
    if is_dataclass(value):
        members = {field.name: getattr(value, field.name) for field in fields(value)}
        absent = {field.name for field in fields(value) if _is_absent(field, members[field.name])}
        return {name: _plain(member) for name, member in members.items() if name not in absent}
    if isinstance(value, Mapping):
        return {str(key): _plain(member) for key, member in value.items()}
    if isinstance(value, tuple):
        return [_plain(member) for member in value]
    return value.isoformat() if isinstance(value, date) else value


def _is_absent(field: Field[Any], value: object) -> bool:
    """Whether an optional field says nothing: None, or an empty text or collection that is its default."""
    default = field.default_factory() if field.default_factory is not MISSING else field.default
    return (value is None or value in ("", ()) or value == {}) and value == default
