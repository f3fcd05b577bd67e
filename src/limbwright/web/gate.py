"""Who is asking: a signed-in user, or the local surgeon on loopback while there are no users."""

import threading
from dataclasses import dataclass

from limbwright.error import Refused
from limbwright.store.store import Store
from limbwright.store.users import Role
from limbwright.web.failure import Failure
from limbwright.web.moment import now
from limbwright.web.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """Somebody who may do something."""

    name: str
    role: Role
    local: bool
    """True for the surgeon at this machine, without a login."""


LOCAL = Identity(name="surgeon", role=Role.SIGN, local=True)


class Gate:
    """Logins of one server; names, passwords and sessions are the store's."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self._store, self._settings = store, settings
        # argon2 takes memory on purpose; two at a time are enough for a department.
        self._at_a_time = threading.BoundedSemaphore(2)

    def identity(self, token: str) -> Identity | None:
        """Who holds a session token; the local surgeon on loopback while there are no users."""
        if self._settings.on_loopback and not self._store.users.all():
            return LOCAL
        user = self._store.sessions.user_of(token)
        return None if user is None else Identity(name=user.name, role=user.role, local=False)

    def log_in(self, name: str, password: str) -> tuple[Identity, str]:
        """Check a password and open a session under a fresh token.

        Raises
        ------
        Failure
            401 when name or password is wrong (it does not say which), 429 while the name is locked.
        """
        with self._at_a_time:
            try:
                user = self._store.users.check(name, password)
            except Refused as error:
                locked = self._locked(name)
                raise Failure(
                    429 if locked else 401,
                    "locked" if locked else "login",
                    error.found,
                    where=error.where,
                    next_step=error.next_step,
                ) from None
        return Identity(name=user.name, role=user.role, local=False), self._store.sessions.open(user.name)

    def _locked(self, name: str) -> bool:
        return any(
            u.name == name and u.locked_until is not None and u.locked_until > now()
            for u in self._store.users.all()
        )

    def log_out(self, token: str) -> None:
        """Close the session of a token."""
        self._store.sessions.close(token)
