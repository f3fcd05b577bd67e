"""What differs between two documents, path by path; and laying one set of changes over another document.

A list whose members carry a name of their own (films by `name`, bones by `bone`, visits by `seen_on`) is
compared member by member under that name, so that a film added in front does not make every other film look
changed. Any other list of objects is compared place by place when it kept its length. Lists of numbers are
one value.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Any

from limbwright.case.text import child_path
from limbwright.quantity import Value

NAMES_OF_MEMBERS = ("name", "bone", "seen_on")
"""Keys by which members of a list are told apart, the first that all members have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member(Value):
    """A member of a list, told from the others by its own name."""

    key: str
    """Key that holds the name."""
    name: str
    """The name."""


Step = str | int | Member
Steps = tuple[Step, ...]


class ChangeKind(StrEnum):
    """What happened to a value."""

    ADDED = "added"
    REMOVED = "removed"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change(Value):
    """One value of a document that differs."""

    steps: Steps
    """Keys, places in lists and names of members that lead to the value."""
    kind: ChangeKind
    """Added, removed or changed."""
    before: Any = None
    """The value before; None when it was added."""
    after: Any = None
    """The value after; None when it was removed."""
    place: int | None = None
    """Where an added member of a list stands."""

    @property
    def path(self) -> str:
        """The steps as a JSON path; members of lists stand under their names:
        `$.plan.bones.tibia.reamer_mm`."""
        path = "$"
        for step in self.steps:
            path = child_path(path, step.name if isinstance(step, Member) else step)
        return path


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Change, ...]:
    """Every value that differs between two documents, in the order of the documents.

    Both are plain JSON values. `applied(before, changes(before, after)) == after`, except that keys of an
    object have no order.
    """
    found: list[Change] = []
    _compare((), before, after, found)
    return tuple(found)


def applied(document: Mapping[str, Any], made: Sequence[Change]) -> dict[str, Any]:
    """The document with changes laid over it; the document itself is not changed.

    Raises
    ------
    LookupError
        If a change leads to a place that this document does not have.
    """
    copy = json.loads(json.dumps(document))
    for change in made:
        _apply(copy, change)
    if not isinstance(copy, dict):
        raise TypeError("a document is an object")
    return copy


def only_mine(mine: Sequence[Change], theirs: Sequence[Change]) -> tuple[Change, ...]:
    """My changes without those that they made too, alike."""
    return tuple(one for one in mine if not any(_alike(one, other) for other in theirs))


def touching(mine: Sequence[Change], theirs: Sequence[Change]) -> tuple[Change, ...]:
    """Those of my changes that lead to, into or around a value that they changed too, and differently."""
    return tuple(
        one
        for one in only_mine(mine, theirs)
        if any(_one_leads_into_the_other(one.steps, other.steps) for other in theirs)
    )


def top_keys(made: Sequence[Change]) -> tuple[str, ...]:
    """The parts of the document that changed, such as `films` and `plan`, in order and once each."""
    return tuple(dict.fromkeys(str(change.steps[0]) for change in made if change.steps))


def _alike(one: Change, other: Change) -> bool:
    return (one.steps, one.kind) == (other.steps, other.kind) and _same(one.after, other.after)


def _one_leads_into_the_other(one: Steps, other: Steps) -> bool:
    shorter = min(len(one), len(other))
    return one[:shorter] == other[:shorter]


def _compare(steps: Steps, before: Any, after: Any, found: list[Change]) -> None:
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        _compare_objects(steps, before, after, found)
    elif isinstance(before, list) and isinstance(after, list):
        _compare_lists(steps, before, after, found)
    elif not _same(before, after):
        found.append(Change(steps=steps, kind=ChangeKind.CHANGED, before=before, after=after))


def _compare_objects(
    steps: Steps, before: Mapping[str, Any], after: Mapping[str, Any], found: list[Change]
) -> None:
    for key in before:
        if key not in after:
            found.append(Change(steps=(*steps, key), kind=ChangeKind.REMOVED, before=before[key]))
        else:
            _compare((*steps, key), before[key], after[key], found)
    for key, value in after.items():
        if key in before:
            continue
        if isinstance(value, list) and value and _name_key([], value) is not None:
            # Where a list is left out nothing is in it: two people may each add its first member.
            _compare_lists((*steps, key), [], value, found)
        else:
            found.append(Change(steps=(*steps, key), kind=ChangeKind.ADDED, after=value))


def _compare_lists(steps: Steps, before: list[Any], after: list[Any], found: list[Change]) -> None:
    key = _name_key(before, after)
    if key is not None and _in_same_order(before, after, key):
        _compare_members(steps, key, before, after, found)
    elif (
        key is None
        and len(before) == len(after)
        and all(isinstance(member, Mapping) for member in (*before, *after))
    ):
        for index, (old, new) in enumerate(zip(before, after, strict=True)):
            _compare((*steps, index), old, new, found)
    elif not _same(before, after):
        found.append(Change(steps=steps, kind=ChangeKind.CHANGED, before=before, after=after))


def _compare_members(
    steps: Steps, key: str, before: list[Any], after: list[Any], found: list[Change]
) -> None:
    old = {member[key]: member for member in before}
    new = {member[key]: member for member in after}
    for name, member in old.items():
        here = (*steps, Member(key=key, name=name))
        if name not in new:
            found.append(Change(steps=here, kind=ChangeKind.REMOVED, before=member))
        else:
            _compare(here, member, new[name], found)
    for place, (name, member) in enumerate(new.items()):
        if name not in old:
            here = (*steps, Member(key=key, name=name))
            found.append(Change(steps=here, kind=ChangeKind.ADDED, after=member, place=place))


def _name_key(before: list[Any], after: list[Any]) -> str | None:
    """The key that tells the members of both lists apart."""
    for key in NAMES_OF_MEMBERS:
        if _names(before, key) is not None and _names(after, key) is not None:
            return key
    return None


def _in_same_order(before: list[Any], after: list[Any], key: str) -> bool:
    """Whether the members that both lists have stand in the same order."""
    old, new = ([member[key] for member in members] for members in (before, after))
    shared = set(old) & set(new)
    return [name for name in old if name in shared] == [name for name in new if name in shared]


def _names(members: list[Any], key: str) -> list[str] | None:
    names = [member.get(key) if isinstance(member, Mapping) else None for member in members]
    texts = [name for name in names if isinstance(name, str)]
    return texts if len(set(texts)) == len(names) else None


def _same(before: Any, after: Any) -> bool:
    """Equal as values: 2500 and 2500.0 are one number, but true is not 1."""
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        return before.keys() == after.keys() and all(_same(before[key], after[key]) for key in before)
    if isinstance(before, list) and isinstance(after, list):
        return len(before) == len(after) and all(map(_same, before, after))
    return isinstance(before, bool) == isinstance(after, bool) and bool(before == after)


def _apply(document: Any, change: Change) -> None:
    if not change.steps:
        raise LookupError("a whole document cannot be laid over another one")
    holder = document
    last = change.steps[-1]
    for step, following in pairwise(change.steps):
        if change.kind is ChangeKind.ADDED and following is last and isinstance(last, Member):
            holder = _list_in(holder, step)
        else:
            holder = holder[_key_in(holder, step)]
    match change.kind:
        case ChangeKind.REMOVED:
            del holder[_key_in(holder, last)]
        case ChangeKind.ADDED if isinstance(holder, list):
            if _place_of(holder, last) is not None:
                raise LookupError(f"{change.path} is there already")
            holder.insert(len(holder) if change.place is None else change.place, change.after)
        case ChangeKind.ADDED if isinstance(holder, dict):
            holder[str(last)] = change.after
        case _:
            holder[_key_in(holder, last)] = change.after


def _list_in(holder: Any, step: Step) -> Any:
    """The list that a member is added to, made where it was left out."""
    if isinstance(holder, dict) and isinstance(step, str):
        return holder.setdefault(step, [])
    return holder[_key_in(holder, step)]


def _key_in(holder: Any, step: Step) -> Any:
    if isinstance(holder, list):
        place = _place_of(holder, step)
        if place is None:
            raise LookupError(f"no member {step!r}")
        return place
    if not isinstance(holder, dict) or step not in holder:
        raise LookupError(f"no value under {step!r}")
    return step


def _place_of(members: list[Any], step: Step) -> int | None:
    if isinstance(step, int):
        return step if step < len(members) else None
    if isinstance(step, Member):
        for place, member in enumerate(members):
            if isinstance(member, Mapping) and member.get(step.key) == step.name:
                return place
    return None
