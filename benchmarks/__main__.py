"""Run every benchmark: `make bench`."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

for path in sorted(Path(__file__).parent.glob("[a-z]*.py")):
    print(f"\n== {path.stem}")
    import_module(f"benchmarks.{path.stem}").main()
