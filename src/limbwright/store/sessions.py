"""Sessions of signed-in users. The database keeps the SHA-256 of a token: a copy of it opens no session."""

import hashlib
import secrets
from datetime import timedelta

from sqlalchemy import Connection, Engine, delete, insert, or_, select, update

from limbwright.error import Missing
from limbwright.store.audit import Action, AuditLog
from limbwright.store.engine import reading, writing
from limbwright.store.moment import Clock
from limbwright.store.schema import USER_ACCOUNT, USER_SESSION
from limbwright.store.users import User, user_in

LASTS_AT_MOST = timedelta(hours=12)
ENDS_UNUSED_AFTER = timedelta(hours=1)
_NOTED_EVERY = timedelta(minutes=1)
"""How often the use of a session is written down; finer would be a write for every picture of a film."""


class SessionBook:
    """The sessions of a store.

    Parameters
    ----------
    lasts_at_most : timedelta
        From sign-in to the end, used or not.
    ends_unused_after : timedelta
        From the last use to the end.
    """

    def __init__(
        self,
        engine: Engine,
        audit: AuditLog,
        now: Clock,
        *,
        lasts_at_most: timedelta = LASTS_AT_MOST,
        ends_unused_after: timedelta = ENDS_UNUSED_AFTER,
    ) -> None:
        self._engine = engine
        self._audit = audit
        self._now = now
        self.lasts_at_most = lasts_at_most
        self.ends_unused_after = ends_unused_after

    def open(self, user_name: str, *, token: str | None = None) -> str:
        """Open a session for a user whose password was checked; returns its token, new and unguessable.

        Parameters
        ----------
        user_name : str
            The user.
        token : str, optional
            A fresh token of the server's own making, at least 32 random characters.

        Raises
        ------
        Missing
            If there is no such user, or they have left.
        """
        token = secrets.token_urlsafe(32) if token is None else token
        now = self._now()
        row = {
            "token_sha256": _digest(token),
            "user_name": user_name,
            "opened_at": now,
            "used_at": now,
            "ends_at": now + self.lasts_at_most,
        }
        with writing(self._engine) as connection:
            query = select(USER_ACCOUNT.c.active).where(USER_ACCOUNT.c.name == user_name)
            if not connection.execute(query).scalar_one_or_none():
                raise Missing(
                    f"there is no active user {user_name[:64]!r}.",
                    where="session",
                    next_step="Choose one from the list of users.",
                )
            self._forget_ended(connection)
            connection.execute(insert(USER_SESSION).values(row))
        return token

    def user_of(self, token: str) -> User | None:
        """Whose session this is; None when it is unknown, over or was not used for too long."""
        now = self._now()
        s, u = USER_SESSION.c, USER_ACCOUNT.c
        query = (
            select(USER_ACCOUNT, s.used_at)
            .join(USER_SESSION, s.user_name == u.name)
            .where(
                s.token_sha256 == _digest(token),
                s.ends_at > now,
                s.used_at > now - self.ends_unused_after,
                u.active,
            )
        )
        with reading(self._engine) as connection:
            row = connection.execute(query).one_or_none()
        if row is None:
            return None
        if now - row.used_at >= _NOTED_EVERY:
            with writing(self._engine) as connection:
                used = update(USER_SESSION).where(s.token_sha256 == _digest(token)).values(used_at=now)
                connection.execute(used)
        return user_in(row)

    def close(self, token: str) -> None:
        """End a session; a token that opens none is passed over."""
        with writing(self._engine) as connection:
            s = USER_SESSION.c
            query = select(s.user_name).where(s.token_sha256 == _digest(token))
            name = connection.execute(query).scalar_one_or_none()
            if name is not None:
                connection.execute(delete(USER_SESSION).where(s.token_sha256 == _digest(token)))
                self._audit.note_on(connection, name, Action.SIGNED_OUT)

    def close_all(self, user_name: str) -> int:
        """End every session of a user; how many there were."""
        with writing(self._engine) as connection:
            ended = connection.execute(delete(USER_SESSION).where(USER_SESSION.c.user_name == user_name))
        return ended.rowcount

    def _forget_ended(self, connection: Connection) -> None:
        now, s = self._now(), USER_SESSION.c
        over = or_(s.ends_at <= now, s.used_at <= now - self.ends_unused_after)
        connection.execute(delete(USER_SESSION).where(over))


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
