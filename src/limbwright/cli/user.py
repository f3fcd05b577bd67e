"""`limbwright user NAME`: who may sign in to a server, and what they may do there."""

from pathlib import Path

import click

from limbwright.cli import load, options, show
from limbwright.error import Missing


@click.command("user")
@click.argument("name", required=False)
@click.option(
    "--may",
    type=click.Choice(["read", "plan", "sign"]),
    help="Add the user with this role, or give them this one.",
)
@click.option("--password", is_flag=True, help="Ask for a new password.")
@click.option("--left/--back", "left", default=None, help="Keep somebody who left out, or let them back in.")
@options.home
@options.database
@options.who
def command(
    *,
    name: str | None,
    may: str | None,
    password: bool,
    left: bool | None,
    home: Path,
    database: str | None,
    who: str,
) -> None:
    """Add or change the user NAME; list all users without a name. Each change ends the user's sessions."""
    from limbwright.store.users import Role

    with load.store_at(home, database=database, make=True) as store:
        there = {user.name for user in store.users.all()}
        if name is not None and name not in there:
            if may is None:
                raise Missing(
                    f"there is no user {name[:64]!r}.",
                    where="user",
                    next_step="Add them with --may read, --may plan or --may sign.",
                )
            store.users.add(name, _asked_password(), Role(may), by=who)
        elif name is not None:
            if may is not None:
                store.users.change_role(name, Role(may), by=who)
            if password:
                store.users.change_password(name, _asked_password(), by=who)
            if left is not None:
                (store.users.deactivate if left else store.users.activate)(name, by=who)
        rows = [(u.name, u.role.value, "" if u.active else "has left") for u in store.users.all()]
    show.table("Users", ("name", "may", ""), rows)


def _asked_password() -> str:
    answer: str = click.prompt("Password", hide_input=True, confirmation_prompt=True)
    return answer
