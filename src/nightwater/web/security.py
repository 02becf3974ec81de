"""What guards every request: headers, cross-site writes, and the size of what is sent."""

from __future__ import annotations

from contextlib import suppress
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

CONTENT_SECURITY_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "connect-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Final = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
MOST_BODY_BYTES: Final = 65_536
# What may send more: edits name each of 2,000 heads with the mark of what was seen; a survey
# sends a file, whose reader has a limit of its own, as have pictures and photos.
_FORM_BESIDE_FILE: Final = 1_048_576
LARGER_BODIES: Final = {
    "/ground/edit": 1_048_576,
    "/survey/read": 200 * 1024 * 1024,
    "/ground/add-image/read": 200 * 1024 * 1024 + _FORM_BESIDE_FILE,
    "/ground/photos/add": 20 * 1024 * 1024 + _FORM_BESIDE_FILE,
}
_READING: Final = ("GET", "HEAD", "OPTIONS")


class SecurityHeaders:
    """Put the headers on every response; pages are not kept by caches unless they say so."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer with the headers added."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self.app(scope, receive, send_guarded)


def is_cross_site(headers: Headers) -> bool:
    """Whether a write comes from another site's page, or does not say where from.

    Browsers tell by Sec-Fetch-Site; older ones by Origin, which must then name this host.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc != headers.get("host")


class SameSiteWrites:
    """Refuse cross-site writes before anything is read of them."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what reads, and what this site's own pages send."""
        writes = scope["type"] == "http" and scope["method"] not in _READING
        if writes and is_cross_site(Headers(scope=scope)):
            refusal = PlainTextResponse("This was sent from another site's page.", 403)
            await refusal(scope, receive, send)
            return
        await self.app(scope, receive, send)


def most_body_bytes(path: str) -> int:
    """How many bytes may be sent to an address."""
    larger = (most for start, most in LARGER_BODIES.items() if f"{path}/".startswith(f"{start}/"))
    return next(larger, MOST_BODY_BYTES)


def _size(count: int) -> str:
    return f"{count} bytes" if count < 1_048_576 else f"{count // 1_048_576} MB"


class BodyTooLargeError(Exception):
    """More was sent than any form of ours holds."""


class BodyLimit:
    """Count what is sent while it is read, whatever its header claims."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the body on, up to the limit."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        read, started, too_large = 0, False, False
        most = most_body_bytes(scope["path"])

        async def receive_counted() -> Message:
            nonlocal read, too_large
            message = await receive()
            read += len(message.get("body", b""))
            if read > most:
                too_large = True
                raise BodyTooLargeError
            return message

        async def send_unless_refused(message: Message) -> None:
            nonlocal started
            if not too_large:
                started = True
                await send(message)

        with suppress(BodyTooLargeError):
            await self.app(scope, receive_counted, send_unless_refused)
        if too_large and not started:
            answer = PlainTextResponse(f"At most {_size(most)} can be sent.", 413)
            await answer(scope, receive, send)
