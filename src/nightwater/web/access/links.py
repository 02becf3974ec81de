"""One-time links: the first owner's, and those that invite people."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Final

from nightwater.findings import ConflictError, NotFoundError
from nightwater.web.access.file import AccessFile, instant
from nightwater.web.access.people import (
    Person,
    add_person,
    check_password,
    has_owner,
    hashed,
    person_by_id,
)
from nightwater.web.access.roles import Role

LINK_LIFE: Final = timedelta(hours=24)
_GONE: Final = (
    "This link was used already or is older than a day. An owner can make a new one on the "
    "People page; before there is an owner, starting the server prints a new one."
)


def token_hash(token: str) -> str:
    """What the file keeps of a token: whoever reads the file cannot use it."""
    return hashlib.sha256(token.encode()).hexdigest()


def _new_link(access: AccessFile, person_id: str | None, now: datetime) -> str:
    token = secrets.token_urlsafe(24)
    with access.writing() as rows:
        rows.execute("DELETE FROM links WHERE user IS ?", [person_id])
        rows.execute(
            "INSERT INTO links VALUES (?, ?, ?)",
            [token_hash(token), person_id, instant(now + LINK_LIFE)],
        )
    return token


def first_owner_token(access: AccessFile, now: datetime) -> str | None:
    """A fresh token for the first owner, or None when there is one; older tokens die."""
    return None if has_owner(access) else _new_link(access, None, now)


def invitation_token(access: AccessFile, person_id: str, now: datetime) -> str:
    """A fresh token with which a person sets a password; older ones die.

    Raises:
        NotFoundError: no such person.
    """
    person_by_id(access, person_id)
    return _new_link(access, person_id, now)


def invited(access: AccessFile, token: str, now: datetime) -> Person | None:
    """Whom a link is for; None stands for the first owner, who has no name yet.

    Raises:
        NotFoundError: unknown, used or expired.
    """
    query = "SELECT user FROM links WHERE token_hash = ? AND expires > ?"
    found = access.rows(query, token_hash(token), instant(now))
    if not found:
        raise NotFoundError(_GONE)
    person_id = found[0]["user"]
    return None if person_id is None else person_by_id(access, person_id)


def use_link(access: AccessFile, token: str, name: str, password: str, now: datetime) -> Person:
    """Set the password of whom the link is for; the link dies, old sessions end.

    Args:
        access: the access file.
        token: from the link.
        name: of the first owner; not looked at where the link names its person.
        password: at least `LEAST_PASSWORD` characters.
        now: the present instant.

    Raises:
        NotFoundError: unknown, used or expired link.
        ConflictError: an owner came first.
        UserError: name or password will not do; the link stays good.
    """
    person = invited(access, token, now)
    check_password(password)
    if person is None and has_owner(access):
        raise ConflictError("This course has an owner already. Ask them for an invitation.")
    if person is None:
        person = add_person(access, name, Role.OWNER, now)
    with access.writing() as rows:
        gone = rows.execute("DELETE FROM links WHERE token_hash = ?", [token_hash(token)])
        if gone.rowcount != 1:
            raise NotFoundError(_GONE)
        rows.execute("DELETE FROM sessions WHERE user = ?", [person.id])
        rows.execute(
            "UPDATE users SET password_hash = ? WHERE id = ?", [hashed(password), person.id]
        )
    return person_by_id(access, person.id)
