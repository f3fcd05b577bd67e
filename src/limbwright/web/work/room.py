"""The open light tables of one server, bounded in number and age."""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable

from limbwright.web.failure import Failure
from limbwright.web.work.state import WorkState

Key = tuple[str, str]


class WorkRoom:
    """Working states by user and session; the one untouched longest goes first."""

    def __init__(
        self, *, most: int, idle_seconds: float, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._most, self._idle, self._clock = most, idle_seconds, clock
        self._states: OrderedDict[Key, tuple[WorkState, float]] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, user: str, session: str, state: WorkState) -> None:
        """Hold the newest state of a session; what was worked out for an equal one is kept."""
        with self._lock:
            before = self._states.pop((user, session), None)
            if before is not None and _equal(before[0], state):
                state.cache.update(before[0].cache)
            self._states[(user, session)] = (state, self._clock())
            while len(self._states) > self._most:
                self._states.popitem(last=False)

    def get(self, user: str, session: str, base: str) -> WorkState:
        """The state a page speaks of.

        Raises
        ------
        Failure
            410 when it is not in memory any more: the server was restarted, or the case went on elsewhere.
        """
        with self._lock:
            now = self._clock()
            for key in [k for k, (_, used) in self._states.items() if now - used > self._idle]:
                del self._states[key]
            found = self._states.get((user, session))
            if found is not None and found[0].base == base:
                self._states[(user, session)] = (found[0], now)
                self._states.move_to_end((user, session))
                return found[0]
        raise Failure(
            410,
            "session-gone",
            "this state of the light table is not in memory.",
            where=f"session {session[:40]!r}",
            next_step="Post the case to /api/work/measure or /api/work/plan again; nothing saved is lost.",
        )

    def drop(self, user: str, session: str) -> None:
        """Forget a session."""
        with self._lock:
            self._states.pop((user, session), None)


def _equal(one: WorkState, other: WorkState) -> bool:
    return one.base == other.base and one.planned is not None and other.planned is not None
