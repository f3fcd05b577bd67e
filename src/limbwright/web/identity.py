"""What a route asks of whoever asks: a role, in its signature."""

from collections.abc import Awaitable, Callable
from typing import Annotated

from fastapi import Depends, Request

from limbwright.store.users import Role
from limbwright.web.bench import Bench
from limbwright.web.failure import Failure
from limbwright.web.gate import Identity


def identity_of(request: Request, bench: Bench) -> Identity:
    """Whoever asks; 401 when nobody is logged in."""
    found: Identity | None = bench.gate.identity(request.state.token)
    if found is None:
        raise Failure(
            401, "login", "nobody is logged in.", where="session", next_step="Log in and try again."
        )
    return found


def _at_least(role: Role) -> Callable[[Identity], Awaitable[Identity]]:
    async def check(identity: Annotated[Identity, Depends(identity_of)]) -> Identity:
        if not identity.role.includes(role):
            raise Failure(
                403,
                "role",
                f"'{identity.name}' has the role '{identity.role}'; this asks for '{role}'.",
                where="session",
                next_step="Ask somebody with that role.",
            )
        return identity

    return check


Reader = Annotated[Identity, Depends(_at_least(Role.READ))]
"""May look."""
Planner = Annotated[Identity, Depends(_at_least(Role.PLAN))]
"""May upload, measure, plan and save."""
Signer = Annotated[Identity, Depends(_at_least(Role.SIGN))]
"""May accept a plan and change profile and catalogue."""
