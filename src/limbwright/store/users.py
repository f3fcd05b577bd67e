"""Users of a server: names, roles, argon2 hashes of their passwords, and a lock after too many wrong ones.

On a machine that only its surgeon uses there are no users.
"""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, insert, select, update

from limbwright.error import Contradiction, Missing, OutOfRange, Refused
from limbwright.quantity import Value
from limbwright.store.audit import Action, AuditLog
from limbwright.store.engine import reading, writing
from limbwright.store.moment import Clock
from limbwright.store.schema import USER_ACCOUNT, USER_SESSION

if TYPE_CHECKING:
    from argon2 import PasswordHasher

FAILURES_BEFORE_LOCK = 5
LOCKED_FOR = timedelta(minutes=15)
SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 1000
"""Longer ones would only make the hash slow."""
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,63}")


class Role(StrEnum):
    """What a user may do; each role includes the ones before it."""

    READ = "read"
    PLAN = "plan"
    SIGN = "sign"

    def includes(self, other: "Role") -> bool:
        """Whether this role may do what the other may."""
        order = list(Role)
        return order.index(self) >= order.index(other)


@dataclass(frozen=True, slots=True, kw_only=True)
class User(Value):
    """Somebody who may sign in."""

    name: str
    """Lower-case letters, digits, dot, hyphen, underscore; at most 64."""
    role: Role
    """What they may do."""
    active: bool
    """False for somebody who has left; their name stays in the history."""
    created_at: datetime
    """When they were added."""
    locked_until: datetime | None
    """Until when every password is refused; None when it is not locked."""


class UserBook:
    """The users of a store.

    Parameters
    ----------
    hasher : PasswordHasher, optional
        argon2 with its own recommended cost unless another one is given.
    """

    def __init__(
        self, engine: Engine, audit: AuditLog, now: Clock, *, hasher: "PasswordHasher | None" = None
    ) -> None:
        self._engine = engine
        self._audit = audit
        self._now = now
        self._given_hasher = hasher

    @cached_property
    def _hasher(self) -> "PasswordHasher":
        from argon2 import PasswordHasher

        return self._given_hasher or PasswordHasher()

    @cached_property
    def _nobody(self) -> str:
        # Checked for a name that is not there, so that the time of the answer tells nothing.
        return self._hasher.hash("nobody has this password")

    def add(self, name: str, password: str, role: Role, *, by: str) -> User:
        """Add a user.

        Raises
        ------
        Contradiction
            If the name is taken.
        OutOfRange
            If name or password will not do.
        """
        if not _NAME.fullmatch(name):
            raise OutOfRange(
                f"{name[:64]!r} cannot serve as a user's name.",
                where="name",
                next_step="Give 1 to 64 lower-case letters, digits, dots, hyphens or underscores.",
            )
        row = {
            "name": name,
            "role": role.value,
            "password_hash": self._hash(password),
            "active": True,
            "created_at": self._now(),
            "failures": 0,
            "locked_until": None,
        }
        with writing(self._engine) as connection:
            if _row_on(connection, name) is not None:
                raise Contradiction(
                    f"there is a user {name!r} already.", where="name", next_step="Choose another name."
                )
            connection.execute(insert(USER_ACCOUNT).values(row))
            self._audit.note_on(connection, by, Action.USER_ADDED, subject=f"{name}, may {role}")
        return self.named(name)

    def named(self, name: str) -> User:
        """The user of that name.

        Raises
        ------
        Missing
            If there is none.
        """
        with reading(self._engine) as connection:
            row = _row_on(connection, name)
        if row is None:
            raise _nobody_named(name)
        return user_in(row)

    def all(self) -> tuple[User, ...]:
        """Every user, by name, those who have left too."""
        with reading(self._engine) as connection:
            rows = connection.execute(select(USER_ACCOUNT).order_by(USER_ACCOUNT.c.name)).all()
        return tuple(user_in(row) for row in rows)

    def check(self, name: str, password: str) -> User:
        """The user whose name and password these are.

        Raises
        ------
        Refused
            If name or password is wrong, the user has left, or the name is locked after
            `FAILURES_BEFORE_LOCK` failures; all in the same words except the lock.
        """
        with reading(self._engine) as connection:
            row = _row_on(connection, name)
        now = self._now()
        if row is not None and row.locked_until is not None and now < row.locked_until:
            minutes = -(-int((row.locked_until - now).total_seconds()) // 60)
            self._audit.note(name[:64], Action.SIGN_IN_REFUSED, subject="locked")
            raise Refused(
                "too many wrong passwords for this name.",
                where="sign-in",
                next_step=f"Wait {minutes} minutes, or ask whoever keeps the users.",
            )
        right = self._is_right(row.password_hash if row is not None else self._nobody, password)
        if row is None or not row.active or not right:
            self._count_failure(name if row is not None else None)
            raise Refused("name or password is wrong.", where="sign-in", next_step="Type both again.")
        values: dict[str, Any] = {"failures": 0, "locked_until": None}
        if self._hasher.check_needs_rehash(row.password_hash):
            values["password_hash"] = self._hasher.hash(password)
        with writing(self._engine) as connection:
            connection.execute(update(USER_ACCOUNT).where(USER_ACCOUNT.c.name == name).values(values))
            self._audit.note_on(connection, name, Action.SIGNED_IN)
        return self.named(name)

    def change_password(self, name: str, password: str, *, by: str) -> None:
        """Give a user a new password; ends the lock and all their sessions."""
        values = {"password_hash": self._hash(password), "failures": 0, "locked_until": None}
        self._change(name, values, by=by, subject=f"{name}, password")

    def change_role(self, name: str, role: Role, *, by: str) -> None:
        """Give a user another role; ends all their sessions."""
        self._change(name, {"role": role.value}, by=by, subject=f"{name}, may {role}")

    def deactivate(self, name: str, *, by: str) -> None:
        """Keep somebody who has left from signing in; ends all their sessions."""
        self._change(name, {"active": False}, by=by, subject=f"{name}, has left")

    def activate(self, name: str, *, by: str) -> None:
        """Let somebody who had left sign in again."""
        self._change(name, {"active": True}, by=by, subject=f"{name}, is back")

    def _change(self, name: str, values: dict[str, Any], *, by: str, subject: str) -> None:
        with writing(self._engine) as connection:
            if _row_on(connection, name) is None:
                raise _nobody_named(name)
            connection.execute(update(USER_ACCOUNT).where(USER_ACCOUNT.c.name == name).values(values))
            connection.execute(USER_SESSION.delete().where(USER_SESSION.c.user_name == name))
            self._audit.note_on(connection, by, Action.USER_CHANGED, subject=subject)

    def _hash(self, password: str) -> str:
        if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
            raise OutOfRange(
                f"a password of {len(password)} characters, expected {SHORTEST_PASSWORD} to "
                f"{LONGEST_PASSWORD}.",
                where="password",
                next_step="Choose a longer one; several plain words will do.",
            )
        return self._hasher.hash(password)

    def _is_right(self, password_hash: str, password: str) -> bool:
        from argon2.exceptions import InvalidHashError, VerificationError

        try:
            return self._hasher.verify(password_hash, password[: LONGEST_PASSWORD + 1])
        except (VerificationError, InvalidHashError):
            return False

    def _count_failure(self, name: str | None) -> None:
        """Count a wrong password; a name that is not there is noted without being repeated."""
        with writing(self._engine) as connection:
            self._audit.note_on(connection, name or "unknown name", Action.SIGN_IN_REFUSED)
            row = None if name is None else _row_on(connection, name, lock=True)
            if row is None:
                return
            # A lock that was served starts the count again.
            served = row.locked_until is not None and row.locked_until <= self._now()
            failures = 1 if served else row.failures + 1
            locked = failures >= FAILURES_BEFORE_LOCK
            values = {"failures": failures, "locked_until": self._now() + LOCKED_FOR if locked else None}
            connection.execute(update(USER_ACCOUNT).where(USER_ACCOUNT.c.name == name).values(values))


def user_in(row: Any) -> User:
    """The user of a row of `user_account`."""
    return User(
        name=row.name,
        role=Role(row.role),
        active=row.active,
        created_at=row.created_at,
        locked_until=row.locked_until,
    )


def _row_on(connection: Connection, name: str, *, lock: bool = False) -> Any:
    query = select(USER_ACCOUNT).where(USER_ACCOUNT.c.name == name)
    return connection.execute(query.with_for_update() if lock else query).one_or_none()


def _nobody_named(name: str) -> Missing:
    return Missing(
        f"there is no user {name[:64]!r}.", where="name", next_step="Choose one from the list of users."
    )
