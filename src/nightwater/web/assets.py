"""The built scripts and styles, by the name they have in the source."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from nightwater.findings import NotFoundError

DIST: Final = Path(__file__).parent / "static" / "dist"
_NOT_BUILT: Final = (
    "The page's scripts and styles are not built. Run 'make setup', or 'python hatch_build.py' "
    "in the source folder."
)


def manifest(folder: Path = DIST) -> dict[str, str]:
    """Source name → built name, for instance "map.js" → "map-Z7DVJG6X.js".

    Raises:
        NotFoundError: nothing was built.
    """
    path = folder / "manifest.json"
    if not path.is_file():
        raise NotFoundError(_NOT_BUILT)
    names: dict[str, str] = json.loads(path.read_text())
    return names
