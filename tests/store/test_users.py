"""Users: hashes, roles, the lock after too many wrong passwords."""

import pytest
from argon2 import PasswordHasher
from sqlalchemy import text

from limbwright.error import Contradiction, Missing, OutOfRange, Refused
from limbwright.store.audit import Action
from limbwright.store.engine import reading
from limbwright.store.users import FAILURES_BEFORE_LOCK, Role, UserBook

GOOD = "four plain words will do"
WRONG = "four other words will not"


@pytest.fixture
def surgeon(store):
    return store.users.add("dr-a", GOOD, Role.SIGN, by="setup")


def test_roles_include_the_ones_before_them():
    assert [r for r in Role if Role.PLAN.includes(r)] == [Role.READ, Role.PLAN]
    assert Role.SIGN.includes(Role.READ)
    assert not Role.READ.includes(Role.PLAN)


def test_the_right_password_opens_and_is_kept_only_as_a_hash(store, surgeon):
    assert (surgeon.role, surgeon.active, surgeon.locked_until) == (Role.SIGN, True, None)
    assert store.users.check("dr-a", GOOD) == surgeon
    assert store.users.all() == (surgeon,)
    with reading(store.engine) as connection:
        kept = connection.execute(text("SELECT password_hash FROM user_account")).scalar()
    assert kept.startswith("$argon2id$")
    assert GOOD not in kept


def test_wrong_name_and_wrong_password_are_refused_alike(store, surgeon):
    messages = set()
    for name, password in (("dr-a", WRONG), ("nobody", GOOD), ("dr-a", ""), ("'; DROP TABLE", "x")):
        with pytest.raises(Refused, match="name or password is wrong") as caught:
            store.users.check(name, password)
        messages.add(str(caught.value))
    assert len(messages) == 1
    assert {e.who for e in store.audit.all() if e.action is Action.SIGN_IN_REFUSED} == {
        "dr-a",
        "unknown name",
    }


def test_too_many_wrong_passwords_lock_the_name_for_a_while(store, surgeon, clock):
    for _ in range(FAILURES_BEFORE_LOCK):
        with pytest.raises(Refused, match="name or password is wrong"):
            store.users.check("dr-a", WRONG)
    with pytest.raises(Refused, match=r"too many wrong passwords.*Wait 15 minutes"):
        store.users.check("dr-a", GOOD)
    clock.pass_by(minutes=16)
    with pytest.raises(Refused, match="name or password is wrong"):
        store.users.check("dr-a", WRONG)  # one failure after a lock that was served is no new lock
    assert store.users.check("dr-a", GOOD).locked_until is None
    for _ in range(FAILURES_BEFORE_LOCK - 1):
        with pytest.raises(Refused, match="name or password is wrong"):
            store.users.check("dr-a", WRONG)
    store.users.check("dr-a", GOOD)


def test_a_new_password_ends_the_lock(store, surgeon):
    for _ in range(FAILURES_BEFORE_LOCK):
        with pytest.raises(Refused, match="wrong"):
            store.users.check("dr-a", WRONG)
    store.users.change_password("dr-a", WRONG, by="admin")
    assert store.users.check("dr-a", WRONG).name == "dr-a"


def test_somebody_who_left_does_not_come_in_until_they_are_back(store, surgeon):
    store.users.deactivate("dr-a", by="admin")
    with pytest.raises(Refused, match="name or password is wrong"):
        store.users.check("dr-a", GOOD)
    store.users.activate("dr-a", by="admin")
    store.users.change_role("dr-a", Role.READ, by="admin")
    assert store.users.check("dr-a", GOOD).role is Role.READ
    changes = [e.subject for e in store.audit.all() if e.action is Action.USER_CHANGED]
    assert changes == ["dr-a, has left", "dr-a, is back", "dr-a, may read"]


def test_a_hash_of_lower_cost_is_made_again_at_the_next_sign_in(store, surgeon):
    book = UserBook(
        store.engine, store.audit, store.now, hasher=PasswordHasher(time_cost=2, memory_cost=8, parallelism=1)
    )
    book.check("dr-a", GOOD)
    with reading(store.engine) as connection:
        assert ",t=2," in connection.execute(text("SELECT password_hash FROM user_account")).scalar()
    book.check("dr-a", GOOD)


def test_our_own_cost_is_the_one_the_library_recommends(store):
    book = UserBook(store.engine, store.audit, store.now)
    book.add("dr-b", GOOD, Role.READ, by="setup")
    with reading(store.engine) as connection:
        kept = connection.execute(text("SELECT password_hash FROM user_account")).scalar()
    assert not PasswordHasher().check_needs_rehash(kept)


@pytest.mark.parametrize("name", ["", "Dr A", "../x", "a" * 65, "-a", "ä", "a\n"])
def test_odd_names_are_refused(store, name):
    with pytest.raises(OutOfRange, match="cannot serve as a user's name"):
        store.users.add(name, GOOD, Role.READ, by="setup")


@pytest.mark.parametrize("password", ["", "short", "x" * 1001])
def test_short_and_endless_passwords_are_refused(store, surgeon, password):
    with pytest.raises(OutOfRange, match="expected 12 to 1000"):
        store.users.add("dr-b", password, Role.READ, by="setup")
    with pytest.raises(OutOfRange, match="expected 12 to 1000"):
        store.users.change_password("dr-a", password, by="setup")
    assert store.users.check("dr-a", GOOD) == surgeon


def test_names_are_taken_once_and_unknown_ones_named(store, surgeon):
    with pytest.raises(Contradiction, match="there is a user 'dr-a' already"):
        store.users.add("dr-a", WRONG, Role.READ, by="setup")
    with pytest.raises(Missing, match="no user 'dr-z'"):
        store.users.named("dr-z")
    with pytest.raises(Missing, match="no user 'dr-z'"):
        store.users.change_role("dr-z", Role.READ, by="setup")
