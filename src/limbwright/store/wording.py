"""Who did something and why, as short printable texts."""

from limbwright.error import Missing, OutOfRange

LONGEST_WHO = 64
LONGEST_WHY = 2000
NOT_IN_ADDRESSES = frozenset("/\\%?#")


def require_who(who: str) -> str:
    """The name of a user or program, refused when it is empty, long or not printable."""
    if not who.strip():
        raise Missing("nobody is named.", where="who", next_step="Say who makes the change.")
    if len(who) > LONGEST_WHO or not who.isprintable():
        raise OutOfRange(
            f"{who[:LONGEST_WHO]!r} cannot serve as a user's name.",
            where="who",
            next_step=f"Give at most {LONGEST_WHO} printable characters.",
        )
    return who


def require_addressable(identifier: str) -> str:
    """The identifier of a case, refused when it cannot stand in the address of a page."""
    strange = sorted(set(identifier) & NOT_IN_ADDRESSES)
    if strange or identifier.startswith("."):
        raise OutOfRange(
            f"{identifier[:LONGEST_WHO]!r} holds {' '.join(strange) or 'a dot at its start'}, "
            "which cannot stand in the address of a page.",
            where="id",
            next_step="Choose an identifier without / \\ % ? # and without a dot at its start.",
        )
    return identifier


def require_why(why: str) -> str:
    """A reason, which may be empty; refused when it is long or holds control characters."""
    if len(why) > LONGEST_WHY or not all(c.isprintable() or c in "\n\t" for c in why):
        raise OutOfRange(
            f"the reason has {len(why)} characters or unprintable ones.",
            where="why",
            next_step=f"Give at most {LONGEST_WHY} printable characters, and no names of persons.",
        )
    return why
