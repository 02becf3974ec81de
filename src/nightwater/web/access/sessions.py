"""Sessions: a signed cookie that names a row of the access file."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from typing import Final

from itsdangerous import BadSignature, URLSafeSerializer

from nightwater.web.access.file import AccessFile, instant
from nightwater.web.access.links import token_hash
from nightwater.web.access.people import Person, person_by_id

SESSION_LIFE: Final = timedelta(days=14)
SESSION_COOKIE: Final = "nightwater_session"
NO_SESSION: Final = "nobody"


def _signer(access: AccessFile, purpose: str) -> URLSafeSerializer:
    return URLSafeSerializer(access.signing_secret(), salt=purpose)


def begin_session(access: AccessFile, person: Person, now: datetime) -> str:
    """A new session's cookie value."""
    identity = secrets.token_urlsafe(24)
    with access.writing() as rows:
        rows.execute("DELETE FROM sessions WHERE expires <= ?", [instant(now)])
        rows.execute(
            "INSERT INTO sessions VALUES (?, ?, ?)",
            [token_hash(identity), person.id, instant(now + SESSION_LIFE)],
        )
    return str(_signer(access, "session").dumps(identity))


def _identity(access: AccessFile, cookie: str) -> str | None:
    try:
        return str(_signer(access, "session").loads(cookie))
    except BadSignature:
        return None


def session_person(access: AccessFile, cookie: str, now: datetime) -> Person | None:
    """Whose session a cookie is, or None."""
    identity = _identity(access, cookie)
    if identity is None:
        return None
    query = "SELECT user FROM sessions WHERE id_hash = ? AND expires > ?"
    found = access.rows(query, token_hash(identity), instant(now))
    return person_by_id(access, found[0]["user"]) if found else None


def end_session(access: AccessFile, cookie: str) -> None:
    """Forget a session, so that its cookie is worth nothing any more."""
    identity = _identity(access, cookie)
    if identity is not None:
        with access.writing() as rows:
            rows.execute("DELETE FROM sessions WHERE id_hash = ?", [token_hash(identity)])


def form_token(access: AccessFile, cookie: str | None) -> str:
    """What a form must bring back to be taken as this session's own."""
    return str(_signer(access, "form").dumps(token_hash(cookie or NO_SESSION)))


def is_own_form(access: AccessFile, cookie: str | None, token: str) -> bool:
    """Whether a form's token belongs to the session that sends it."""
    try:
        return bool(_signer(access, "form").loads(token) == token_hash(cookie or NO_SESSION))
    except BadSignature:
        return False
