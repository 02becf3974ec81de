"""How long a piece of work takes, for every benchmark."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable


def middle_s(run: Callable[[], object], runs: int = 9) -> float:
    """Median time of several runs [s]."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return statistics.median(times)
