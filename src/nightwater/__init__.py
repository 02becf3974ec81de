"""Plan, prove and account for every night of golf-course irrigation.

For scripts:

    import nightwater as nw
    course = nw.open("my.gpkg")
    course.heads
    nw.need(course, night="2026-07-14").table
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

# Loaded at first use, so that a core module can be imported without the libraries of the edges.
_DEEDS = {
    "open": ("course", "open_course"),
    "Course": ("course", "Course"),
    "check": ("checking", "check"),
    "need": ("scripts", "need"),
    "plan": ("scripts", "plan"),
    "morning": ("scripts", "morning"),
    "ledger": ("booking", "ledger"),
}

__all__ = ["Course", "check", "ledger", "morning", "need", "open", "plan"]


def __getattr__(name: str) -> Any:
    if name not in _DEEDS:
        raise AttributeError(f"module 'nightwater' has no attribute '{name}'")
    module, deed = _DEEDS[name]
    return getattr(import_module(f"nightwater.desk.{module}"), deed)
