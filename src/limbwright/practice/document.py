"""The practice profile as a file that its surgeon can read and edit (TOML)."""

import re
import textwrap
import tomllib
from dataclasses import fields
from difflib import get_close_matches
from itertools import groupby
from typing import Any

from limbwright.error import Contradiction, OutOfRange, Unreadable
from limbwright.practice.profile import Profile
from limbwright.practice.setting import settings, toml_text

WHERE = "practice profile"
LONGEST_FILE_CHARACTERS = 1_000_000
INTRODUCTION = """\
# Practice profile: the numbers this surgeon plans and follows with.
# Decision support for a licensed surgeon; not a medical device. Check every number against the
# implant's own instructions and local rules.
# A setting that is left out keeps our default.
"""


def profile_to_toml(profile: Profile) -> str:
    """The profile as a TOML file, each setting with its meaning, accepted range and source beside it."""
    parts = [INTRODUCTION]
    for group, members in groupby(settings(), key=lambda s: s.group):
        parts.append(f"\n\n# ---- {group} ----\n")
        for one in members:
            unit = f" [{one.unit}]" if one.unit else ""
            answer = getattr(profile, one.name)
            origin = f"Source: {one.source}."
            if answer != one.default:
                origin = f"Our default is {toml_text(one.default)}, from: {one.source}."
            words = f"{one.meaning}.{unit} Takes {one.expected()}. {origin}"
            comment = textwrap.wrap(words, width=98, break_long_words=False, break_on_hyphens=False)
            parts.append("\n" + "".join(f"# {line}\n" for line in comment))
            parts.append(f"{one.name} = {toml_text(answer)}\n")
    return "".join(parts)


def profile_from_toml(text: str) -> Profile:
    """Read a practice profile; settings that are left out keep our defaults.

    Parameters
    ----------
    text : str
        Content of the TOML file.

    Raises
    ------
    Unreadable
        If the text is not TOML, or far too long for a profile.
    OutOfRange
        If a name is unknown, or an answer is of the wrong kind or out of range; names the line.
    Contradiction
        If two settings cannot both be meant.
    """
    given = _toml(text)
    known = {f.name for f in fields(Profile)}
    for name in given:
        if name not in known:
            near = get_close_matches(name, sorted(known), n=3, cutoff=0.5)
            raise OutOfRange(
                f"there is no setting {name!r}.",
                where=_where(text, name),
                next_step=f"Did you mean {' or '.join(near)}?" if near else "Take the line out of the file.",
            )
    answers: dict[str, Any] = {}
    for one in settings():
        if one.name in given:
            try:
                answers[one.name] = one.checked(given[one.name])
            except OutOfRange as error:
                raise OutOfRange(
                    error.found, where=_where(text, one.name), next_step=error.next_step
                ) from error
    try:
        return Profile(**answers)
    except Contradiction as error:
        names = [word for word in re.findall(r"\w+", error.found) if word in given]
        where = _where(text, names[0]) if names else WHERE
        raise Contradiction(error.found, where=where, next_step=error.next_step) from error


def _toml(text: str) -> dict[str, Any]:
    if len(text) > LONGEST_FILE_CHARACTERS:
        raise Unreadable(
            f"the file has {len(text)} characters, expected at most {LONGEST_FILE_CHARACTERS}.",
            where=WHERE,
            next_step="Is this the right file?",
        )
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise Unreadable(
            f"the file is not valid TOML: {error}.",
            where=WHERE,
            next_step='Write one setting a line, as in "overlap_mm = 50".',
        ) from error


def _where(text: str, name: str) -> str:
    pattern = re.compile(rf"""\s*(\[+\s*)?["']?{re.escape(name)}["']?\s*[=.\]]""")
    for number, line in enumerate(text.splitlines(), start=1):
        if pattern.match(line):
            return f"{WHERE}, line {number}"
    return WHERE
