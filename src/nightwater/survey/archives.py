"""Zipped files, looked into before a byte of them is unpacked."""

from __future__ import annotations

import struct
import zipfile
import zlib
from pathlib import Path
from typing import Final

from nightwater.findings import UserError

MAX_UNPACKED_BYTES: Final = 200 * 1024 * 1024
MAX_RATIO: Final = 200.0  # real maps and workbooks pack 3 to 50 times; deflate can reach 1032
RATIO_COUNTS_FROM_BYTES: Final = 10 * 1024 * 1024  # a small table of one value packs well too
MAX_MEMBERS: Final = 10_000
ARCHIVE_ERRORS: Final = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    RuntimeError,  # a member with a password
    NotImplementedError,  # a member packed in a way that nobody here unpacks
    ValueError,
    KeyError,
    OverflowError,
)


def checked_members(path: Path) -> tuple[zipfile.ZipInfo, ...]:
    """What an archive holds, where it unpacks to no more than it should.

    Python's reader stops at the size a member declares, so a declared size can be trusted
    as a bound.

    Raises:
        UserError: no archive, or one that unpacks to more than 200 MB, to more than 200 times
            its own size, or into more than 10,000 members.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = tuple(archive.infolist())
    except ARCHIVE_ERRORS as problem:
        raise _unreadable(path, problem) from None
    whole, packed = sum(member.file_size for member in members), path.stat().st_size
    if len(members) > MAX_MEMBERS:
        raise UserError(
            f"{path.name} holds {len(members):,} files; archives of up to {MAX_MEMBERS:,} are read."
        )
    if whole > MAX_UNPACKED_BYTES:
        raise UserError(
            f"{path.name} would unpack to {whole / 1e6:,.0f} MB; up to "
            f"{MAX_UNPACKED_BYTES / 1e6:.0f} MB are read. Divide it into smaller files."
        )
    if whole > RATIO_COUNTS_FROM_BYTES and whole > MAX_RATIO * packed:
        raise UserError(
            f"{path.name} would unpack to {whole / max(packed, 1):,.0f} times its size; up to "
            f"{MAX_RATIO:.0f} times is read, for more is hardly a map or a table."
        )
    return members


def _unreadable(path: Path, problem: Exception) -> UserError:
    reason = " ".join(str(problem).split())[:160] or type(problem).__name__
    return UserError(f"{path.name} cannot be unpacked: {reason}. Write it anew and try again.")


def unpacked(path: Path, ending: str) -> dict[str, bytes]:
    """The members with that ending, in the archive's order, by their name inside.

    Raises:
        UserError: see `checked_members`; or a member that cannot be unpacked.
    """
    wanted = [m for m in checked_members(path) if m.filename.lower().endswith(ending)]
    try:
        with zipfile.ZipFile(path) as archive:
            return {member.filename: archive.read(member) for member in wanted}
    except ARCHIVE_ERRORS as problem:
        raise _unreadable(path, problem) from None
