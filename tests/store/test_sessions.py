"""Sessions: by a token that only its holder knows, ending when they should."""

import pytest
from sqlalchemy import text

from limbwright.error import Missing
from limbwright.store.audit import Action
from limbwright.store.engine import reading
from limbwright.store.users import Role

GOOD = "four plain words will do"


@pytest.fixture
def surgeon(store):
    return store.users.add("dr-a", GOOD, Role.SIGN, by="setup")


def sessions_in(store):
    with reading(store.engine) as connection:
        return connection.execute(text("SELECT token_sha256, used_at FROM user_session")).all()


def test_a_token_opens_and_the_database_does_not_hold_it(store, surgeon):
    token = store.sessions.open("dr-a")
    assert store.sessions.user_of(token) == surgeon
    assert store.sessions.user_of(token[:-1] + ("a" if token[-1] != "a" else "b")) is None
    assert token not in str(sessions_in(store))
    assert store.sessions.open("dr-a") != token


def test_a_token_of_the_servers_own_making_serves_too(store, surgeon):
    assert store.sessions.open("dr-a", token="t" * 43) == "t" * 43
    assert store.sessions.user_of("t" * 43) == surgeon


def test_a_session_ends_unused_after_an_hour_and_used_after_twelve(store, surgeon, clock):
    unused, used = store.sessions.open("dr-a"), store.sessions.open("dr-a")
    for _ in range(20):
        clock.pass_by(minutes=50)
        if store.sessions.user_of(used) is None:
            break
    assert clock() - surgeon.created_at > store.sessions.lasts_at_most
    assert store.sessions.user_of(unused) is None
    store.sessions.open("dr-a")
    assert len(sessions_in(store)) == 1  # those that are over are forgotten


def test_the_use_of_a_session_is_not_written_at_every_look(store, surgeon, clock):
    token = store.sessions.open("dr-a")
    (before,) = sessions_in(store)
    store.sessions.user_of(token)
    assert sessions_in(store) == [before]
    clock.pass_by(minutes=2)
    store.sessions.user_of(token)
    assert sessions_in(store) != [before]


def test_sessions_are_closed_one_by_one_or_all(store, surgeon):
    one, two, three = (store.sessions.open("dr-a") for _ in range(3))
    store.sessions.close(one)
    store.sessions.close("unknown")
    assert store.sessions.user_of(one) is None
    assert store.sessions.close_all("dr-a") == 2
    assert store.sessions.user_of(two) is store.sessions.user_of(three) is None
    assert [e.who for e in store.audit.all() if e.action is Action.SIGNED_OUT] == ["dr-a"]


@pytest.mark.parametrize(
    "change",
    [
        lambda users: users.change_role("dr-a", Role.READ, by="admin"),
        lambda users: users.change_password("dr-a", "another four plain words", by="admin"),
        lambda users: users.deactivate("dr-a", by="admin"),
    ],
)
def test_a_change_of_the_user_ends_their_sessions(store, surgeon, change):
    token = store.sessions.open("dr-a")
    change(store.users)
    assert store.sessions.user_of(token) is None


def test_nobody_else_gets_a_session(store, surgeon):
    with pytest.raises(Missing, match="no active user 'dr-z'"):
        store.sessions.open("dr-z")
    store.users.deactivate("dr-a", by="admin")
    with pytest.raises(Missing, match="no active user 'dr-a'"):
        store.sessions.open("dr-a")
