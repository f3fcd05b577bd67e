"""A case without the identity of its patient: stand-ins, moved dates, no words that a user could have typed.

Texts are kept only when `tables/case_texts.csv` lists them, so that a field added to the case later is taken
out until somebody has decided about it. Ages are kept to the day, because growth and planning depend on them:
the birth date is moved with all other dates.
"""

from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, field, fields, is_dataclass
from datetime import date, datetime
from enum import Enum, StrEnum
from functools import cache
from typing import Any

from limbwright.case.case import Case
from limbwright.error import LimbwrightError, Refused
from limbwright.published import table
from limbwright.store.pseudonym import Pseudonyms

TAKEN_OUT = "removed"


class Treatment(StrEnum):
    """What happens to a text."""

    KEEP = "keep"
    CASE = "case pseudonym"
    PATIENT = "patient pseudonym"
    FILM_NAME = "film name"
    FILM_FILE = "film file"
    FILM_DIGEST = "film digest"
    TAKE_OUT = "take out"


@cache
def treatments() -> dict[tuple[str, str], Treatment]:
    """Treatment by type and field; what is not listed is taken out."""
    rows = table("store", "case_texts")
    return {(row.text("owner"), row.text("field")): Treatment(row.text("treatment")) for row in rows}


def case_without_identity(case: Case, *, pseudonyms: Pseudonyms, films: Mapping[str, str]) -> Case:
    """The case without the identity of its patient.

    Parameters
    ----------
    case : Case
        The case.
    pseudonyms : Pseudonyms
        Stand-ins of the practice.
    films : mapping of str to str
        Digest of each film that goes along without its identity, by the digest it had before.

    Raises
    ------
    Refused
        If what is left would not hold together as a case.
    """
    try:
        cleaned = _Cleaning(case=case, pseudonyms=pseudonyms, films=films).cleaned(case)
    except LimbwrightError as error:
        raise Refused(
            f"without its free texts the case does not hold together ({error.found})",
            where=f"case {case.id!r}",
            next_step="Give the texts that are needed in the program's own words, then export again.",
        ) from error
    if not isinstance(cleaned, Case):
        raise TypeError("a case became something else")
    return cleaned


@dataclass(frozen=True, kw_only=True)
class _Cleaning:
    case: Case
    pseudonyms: Pseudonyms
    films: Mapping[str, str]
    names: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        numbered = {film.name: f"film {number}" for number, film in enumerate(self.case.films, start=1)}
        object.__setattr__(self, "names", numbered)

    def cleaned(self, value: Any) -> Any:
        if not is_dataclass(value) or isinstance(value, type):
            raise TypeError(f"{type(value).__name__} is no stored value")
        kept: dict[str, Any] = {}
        for one in fields(value):
            if one.init:
                kept[one.name] = self._member(type(value).__name__, one, getattr(value, one.name))
        if type(value).__name__ == "Film":
            # Without a picture that goes along there is nothing for the file name to name.
            kept["file"] = None if kept["sha256"] is None else f"{kept['sha256']}.dcm"
        return type(value)(**kept)

    def _member(self, owner: str, one: Field[Any], value: Any) -> Any:
        if isinstance(value, Mapping):
            return {key: self._member(owner, one, member) for key, member in value.items()}
        if isinstance(value, tuple):
            if (
                any(_is_text(member) for member in value)
                and self._treatment(owner, one) is Treatment.TAKE_OUT
            ):
                return ()
            return tuple(self._member(owner, one, member) for member in value)
        if isinstance(value, datetime):
            raise TypeError(f"{owner}.{one.name} is a moment; nothing says how to move it")
        if isinstance(value, date):
            return self.pseudonyms.moved(value, patient=self.case.patient.id)
        if is_dataclass(value):
            return self.cleaned(value)
        return self._text(owner, one, value) if _is_text(value) else value

    def _treatment(self, owner: str, one: Field[Any]) -> Treatment:
        return treatments().get((owner, one.name), Treatment.TAKE_OUT)

    def _text(self, owner: str, one: Field[Any], text: str) -> str | None:
        default = one.default if isinstance(one.default, str | None) else TAKEN_OUT
        stand_ins: dict[Treatment, Callable[[], str | None]] = {
            Treatment.KEEP: lambda: text,
            Treatment.CASE: lambda: self.pseudonyms.case(text),
            Treatment.PATIENT: lambda: self.pseudonyms.patient(text),
            Treatment.FILM_NAME: lambda: self.names.get(text, TAKEN_OUT),
            Treatment.FILM_DIGEST: lambda: self.films.get(text),
            Treatment.FILM_FILE: lambda: None,
            Treatment.TAKE_OUT: lambda: default,
        }
        return stand_ins[self._treatment(owner, one)]()


def _is_text(value: object) -> bool:
    return isinstance(value, str) and not isinstance(value, Enum)
