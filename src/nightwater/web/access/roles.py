"""What each role may do."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from nightwater.findings import NotAllowedError


class Role(StrEnum):
    """Who somebody is on this course."""

    OWNER = "owner"
    PLANNER = "planner"
    CREW = "crew"
    VIEWER = "viewer"


class Deed(StrEnum):
    """What a page lets people do beyond reading."""

    PLAN = "plan a night"
    APPROVE = "approve a night"
    HOLD = "hold water back"
    REHEARSE = "rehearse a night"
    TRIM = "trim the water"
    RECORD = "change the record"
    DISMISS = "dismiss a finding"
    PLACE = "place a picture"
    PHOTO = "add a photo"
    WITHDRAW = "withdraw somebody else's photo"
    MEASURE = "measure an audit"
    PEOPLE = "invite people and change roles"


_PLANNERS: Final = (Role.OWNER, Role.PLANNER)
_WORKERS: Final = (*_PLANNERS, Role.CREW)
MAY: Final[Mapping[Deed, tuple[Role, ...]]] = {
    Deed.PLAN: _PLANNERS,
    Deed.APPROVE: _PLANNERS,
    Deed.HOLD: _PLANNERS,
    Deed.REHEARSE: _PLANNERS,
    Deed.TRIM: _PLANNERS,
    Deed.RECORD: _PLANNERS,
    Deed.DISMISS: _PLANNERS,
    Deed.PLACE: _PLANNERS,
    Deed.PHOTO: _WORKERS,
    Deed.WITHDRAW: _PLANNERS,
    Deed.MEASURE: _WORKERS,
    Deed.PEOPLE: (Role.OWNER,),
}
MEANING: Final[Mapping[Role, str]] = {
    Role.OWNER: "plans, approves, and invites people",
    Role.PLANNER: "plans and approves nights",
    Role.CREW: "reads everything; prints the sheet; measures audits, adds photos",
    Role.VIEWER: "reads everything",
}


def why_not(role: Role, deed: Deed) -> str | None:
    """Why a role may not do a deed, as a sentence for the page; None where it may."""
    allowed = MAY[deed]
    if role in allowed:
        return None
    who = " or ".join(f"{'an' if r is Role.OWNER else 'a'} {r}" for r in allowed)
    return f"Only {who} may {deed}; your role is {role}."


def check_may(role: Role, deed: Deed) -> None:
    """Refuse a deed that the role does not cover.

    Raises:
        NotAllowedError: with the sentence of `why_not`.
    """
    reason = why_not(role, deed)
    if reason is not None:
        raise NotAllowedError(reason)
