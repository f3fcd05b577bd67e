"""The text of a case file, before anything in it is believed: size, encoding, depth, numbers, double keys."""

import json
import math
from collections import Counter
from collections.abc import Iterator
from typing import Any

from limbwright.case.problem import Problem, UnreadableCase
from limbwright.error import Unreadable

LARGEST_DOCUMENT_BYTES = 20_000_000
"""A case with ten traced films stays under two million bytes."""
MOST_VALUES = 400_000
"""Numbers, texts and objects in a document; ten films with twenty traced walls of 500 points have 200,000. It
bounds the time and memory that a document full of mistakes can take."""
LONGEST_SHOWN = 60
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


class _DoubleKeys(dict[str, Any]):
    """An object of the document in which a key stands twice."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.twice = sorted(name for name, count in Counter(name for name, _ in pairs).items() if count > 1)


def require_size(size_bytes: int, *, where: str) -> None:
    """Refuse a document larger than a case can be, before it is read.

    Raises
    ------
    Unreadable
        With the size and the limit.
    """
    if size_bytes > LARGEST_DOCUMENT_BYTES:
        raise Unreadable(
            f"{size_bytes:,} bytes, expected at most {LARGEST_DOCUMENT_BYTES:,}.",
            where=where,
            next_step="Case files hold readings, not images; check that this is a case file.",
        )


def document_bytes(document: str | bytes, *, where: str) -> bytes:
    """The document as UTF-8, without the byte order mark that some editors put in front of it."""
    try:
        data = document.encode() if isinstance(document, str) else bytes(document)
    except UnicodeEncodeError:
        raise Unreadable(
            "characters that are no valid Unicode.", where=where, next_step="Save the file as UTF-8."
        ) from None
    require_size(len(data), where=where)
    return data.removeprefix(BYTE_ORDER_MARK)


def parsed(data: bytes, *, where: str) -> dict[str, Any]:
    """The document as plain Python values.

    Parameters
    ----------
    data : bytes
        UTF-8, as `document_bytes` returns it.
    where : str
        Name of the file, for messages.

    Raises
    ------
    Unreadable
        If it is empty, no JSON, not UTF-8, nested too deep, or no object.
    UnreadableCase
        With the path of each key that stands twice and each number beyond every range.

    Notes
    -----
    JSON leaves open what a key that stands twice means; two readers could read two different patients out of
    one file, so it is refused. NaN and Infinity are no JSON.
    """
    from pydantic_core import from_json

    if not data.strip():
        raise Unreadable("the file is empty.", where=where, next_step="Choose another file, or export again.")
    if (commas := data.count(b",")) > MOST_VALUES:
        raise Unreadable(
            f"{commas:,} values, expected at most {MOST_VALUES:,}.",
            where=where,
            next_step="Check that this is a case file, and that traced walls have some hundred points each.",
        )
    try:
        # This parser has a fixed limit of depth, so that the second one can never exhaust the stack.
        from_json(data, allow_inf_nan=False)
        tree = json.loads(data, object_pairs_hook=_object)
    except (ValueError, RecursionError) as error:
        raise _not_json(str(error), data, where) from None
    if not isinstance(tree, dict):
        raise Unreadable(
            f"the document is {_kind(tree)}, expected an object.",
            where=where,
            next_step='A case file begins with {"schema_version": 1, …}.',
        )
    faults = tuple(_faults(tree, "$"))
    if faults:
        raise UnreadableCase(faults, where=where)
    return tree


def shown(value: object) -> str:
    """A value as it stands in the document, shortened; what could act on a terminal is spelt out."""
    try:
        text = json.dumps(value, ensure_ascii=False)
    except (TypeError, ValueError, RecursionError):
        text = repr(value)
    text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text[: LONGEST_SHOWN + 1])
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"


def child_path(path: str, step: str | int) -> str:
    """JSON path of a member of the value at `path`."""
    if isinstance(step, int):
        return f"{path}[{step}]"
    if step.isidentifier():
        return f"{path}.{step}"
    return f"{path}[{shown(step)}]"


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    return plain if len(plain) == len(pairs) else _DoubleKeys(pairs)


def _not_json(message: str, data: bytes, where: str) -> Unreadable:
    step = "Read it from where it was exported, or mend the text there."
    if "recursion" in message:
        found = f"nested too deep to be a case file ({message})."
    elif "unicode" in message or data[:2] in {b"\xff\xfe", b"\xfe\xff"} or b"\x00" in data[:4]:
        found, step = "the text is not UTF-8.", "Save the file as UTF-8 and read it again."
    elif any(word in data for word in (b"NaN", b"Infinity")) and (
        "expected value" in message or "invalid number" in message
    ):
        found = f"no valid JSON: {message}; NaN and Infinity are not numbers in JSON."
        step = "Leave out what is not known."
    else:
        found = f"no valid JSON: {message}."
    return Unreadable(found, where=where, next_step=step)


def _kind(value: object) -> str:
    return {list: "an array", str: "a text", bool: "true or false", type(None): "null"}.get(
        type(value), "a number"
    )


def _faults(value: object, path: str) -> Iterator[Problem]:
    match value:
        case dict():
            for name in value.twice if isinstance(value, _DoubleKeys) else ():
                yield Problem(
                    path=child_path(path, name),
                    value=shown(value[name]),
                    found="this key stands twice in one object.",
                    next_step="Keep the right one.",
                )
            for name, member in value.items():
                yield from _faults(member, child_path(path, name))
        case list():
            for index, member in enumerate(value):
                yield from _faults(member, child_path(path, index))
        case float() if not math.isfinite(value):
            yield Problem(
                path=path,
                value="",
                found="the number is too large to be stored.",
                next_step="Correct it, or leave it out.",
            )
        case _:
            return
