"""The people of a course and their passwords."""

from __future__ import annotations

import secrets
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.web.access.file import AccessFile, instant
from nightwater.web.access.roles import Role

LEAST_PASSWORD: Final = 10
LONGEST_PASSWORD: Final = 200
LONGEST_NAME: Final = 60
_HASHER: Final = PasswordHasher()
# Verified when there is no such person, so that the answer takes as long either way.
_NOBODY: Final = _HASHER.hash(secrets.token_hex(16))


@dataclass(frozen=True)
class Person:
    """Somebody with an account; without a password they have not yet used their link."""

    id: str
    name: str
    role: Role
    has_password: bool


def _person(row: sqlite3.Row) -> Person:
    return Person(row["id"], row["name"], Role(row["role"]), row["password_hash"] is not None)


def people(access: AccessFile) -> list[Person]:
    """Everybody, by name."""
    return [_person(row) for row in access.rows("SELECT * FROM users ORDER BY name")]


def person_by_id(access: AccessFile, person_id: str) -> Person:
    """The person with that id.

    Raises:
        NotFoundError: there is none.
    """
    found = access.rows("SELECT * FROM users WHERE id = ?", person_id)
    if not found:
        raise NotFoundError("That account does not exist any more. Look at the People page.")
    return _person(found[0])


def has_owner(access: AccessFile) -> bool:
    """Whether an owner with a password exists."""
    query = "SELECT 1 FROM users WHERE role = 'owner' AND password_hash IS NOT NULL"
    return bool(access.rows(query))


def _checked_name(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise UserError("The name is empty. Write the name that stands beside an approval.")
    if len(name) > LONGEST_NAME:
        raise UserError(f"The name has {len(name)} characters; at most {LONGEST_NAME} fit.")
    return name


def check_password(password: str) -> None:
    """Refuse a password that is too short or too long.

    Raises:
        UserError: with the limit.
    """
    if len(password) < LEAST_PASSWORD:
        raise UserError(
            f"The password has {len(password)} characters; at least {LEAST_PASSWORD} are wanted. "
            "A short sentence is easy to remember."
        )
    if len(password) > LONGEST_PASSWORD:
        raise UserError(f"The password is longer than {LONGEST_PASSWORD} characters.")


def add_person(access: AccessFile, name: str, role: Role, now: datetime) -> Person:
    """Make an account without a password; its one-time link sets that.

    Raises:
        UserError: empty or long name.
        ConflictError: the name is taken.
    """
    name, identity = _checked_name(name), secrets.token_hex(8)
    try:
        with access.writing() as rows:
            rows.execute(
                "INSERT INTO users VALUES (?, ?, ?, NULL, ?)", [identity, name, role, instant(now)]
            )
    except sqlite3.IntegrityError:
        raise ConflictError(f"There is a '{name}' already. Choose another name.") from None
    return Person(identity, name, role, has_password=False)


def _check_leaves_an_owner(access: AccessFile, person: Person) -> None:
    others = [p for p in people(access) if p.role is Role.OWNER and p.has_password]
    if person.role is Role.OWNER and [p.id for p in others] == [person.id]:
        raise UserError(f"{person.name} is the only owner. Make somebody else an owner first.")


def change_role(access: AccessFile, person_id: str, role: Role) -> None:
    """Give somebody another role.

    Raises:
        NotFoundError: no such person.
        UserError: the course would be left without an owner.
    """
    person = person_by_id(access, person_id)
    if role is not Role.OWNER:
        _check_leaves_an_owner(access, person)
    with access.writing() as rows:
        rows.execute("UPDATE users SET role = ? WHERE id = ?", [role, person_id])


def remove_person(access: AccessFile, person_id: str) -> None:
    """Take somebody's account, sessions and links away; their name stays in the history.

    Raises:
        NotFoundError: no such person.
        UserError: the course would be left without an owner.
    """
    _check_leaves_an_owner(access, person_by_id(access, person_id))
    with access.writing() as rows:
        rows.execute("DELETE FROM users WHERE id = ?", [person_id])


def hashed(password: str) -> str:
    """Argon2 hash of a password that `check_password` let pass."""
    return _HASHER.hash(password)


def _matches(stored: str, password: str) -> bool:
    try:
        return _HASHER.verify(stored, password)
    except (VerifyMismatchError, InvalidHashError):
        return False


def person_with_password(access: AccessFile, name: str, password: str) -> Person | None:
    """The person whose name and password these are, or None."""
    found = access.rows("SELECT * FROM users WHERE name = ?", " ".join(name.split()))
    stored = found[0]["password_hash"] if found else None
    matches = _matches(stored or _NOBODY, password[: LONGEST_PASSWORD + 1])
    return _person(found[0]) if stored is not None and matches else None
