"""What the Morning page shows of a proof."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Annotated, Any, ClassVar, Final, Literal

from nightwater.desk.nights import StoredNight
from nightwater.findings import Finding, Severity
from nightwater.ground.settings import PRIORITY
from nightwater.night.plan import Night
from nightwater.proof.verdict import Proof, Rescue, StationProof, Verdict
from nightwater.web.access.roles import Deed, why_not
from nightwater.web.doorway import Visit
from nightwater.web.figures import clock
from nightwater.web.places import Named, Places
from nightwater.web.state import NONE_IF_EMPTY, PageState, SearchText
from nightwater.web.tonight.search import fits_word, natural

FIRST_ROWS: Final = 60
FIRST_RESCUES: Final = 12
WORDS: Final = {
    Verdict.GREEN: "It ran",
    Verdict.AMBER: "Not all of it is proved",
    Verdict.RED: "Some stations got no water",
}
STATION_WORDS: Final = {
    Verdict.GREEN: "ran",
    Verdict.AMBER: "not proved",
    Verdict.RED: "no water",
}
_WORST_FIRST: Final = {Verdict.RED: 0, Verdict.AMBER: 1, Verdict.GREEN: 2}


class Query(PageState):
    """The state of the page: which night, and which stations of it."""

    path: ClassVar[str] = "/morning"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    q: SearchText = ""
    verdict: Literal["", "green", "amber", "red"] = ""
    all: bool = False
    subject: str = ""


@dataclass(frozen=True)
class StationLine(Named):
    """One station of the table: its proof, and the verdict in a word."""

    proof: StationProof
    word: str


def _worst_first(line: StationLine) -> tuple[Any, ...]:
    place = PRIORITY.index(line.kind) if line.kind in PRIORITY else len(PRIORITY)
    return _WORST_FIRST[line.proof.verdict], place, natural(line.label)


def station_lines(proof: Proof, places: Places) -> list[StationLine]:
    """Every station, the worst first, greens before rough."""
    lines = [
        StationLine(
            **asdict(places.named(one.station, one.area, one.kind)),
            proof=one,
            word=STATION_WORDS[one.verdict],
        )
        for one in proof.stations
    ]
    return sorted(lines, key=_worst_first)


def found_lines(lines: list[StationLine], query: Query, places: Places) -> list[StationLine]:
    """Those that the query asks for."""
    kinds = {line.kind for line in lines}
    words = query.q.split()
    return [
        line
        for line in lines
        if query.verdict in ("", line.proof.verdict)
        and all(fits_word(line, word, kinds, places.holes) for word in words)
    ]


def counts(proof: Proof) -> dict[str, int]:
    """How many stations have each verdict, the worst first."""
    return {
        verdict.value: sum(one.verdict is verdict for one in proof.stations)
        for verdict in _WORST_FIRST
    }


def causes(proof: Proof) -> list[Finding]:
    """What the whole night suffered from: the errors that name no single station."""
    return [
        finding
        for finding in proof.findings
        if finding.severity is Severity.ERROR and not finding.subject.startswith("stations:")
    ]


@dataclass(frozen=True)
class RescueLine(Named):
    """One station of the rescue list, and the clock times at which it may start and is done."""

    rescue: Rescue
    start: str
    ready: str


def rescue_lines(proof: Proof, plan: Night, places: Places, timezone: str) -> list[RescueLine]:
    """The rescue list in its order."""

    def at(minute: int | None) -> str:
        if minute is None:
            return "–"
        return clock(plan.window.end + timedelta(minutes=minute), timezone)

    return [
        RescueLine(
            **asdict(places.named(one.station, one.area, one.kind)),
            rescue=one,
            start=at(one.start_min),
            ready=at(one.ready_min),
        )
        for one in proof.rescue
    ]


def map_values(proof: Proof, places: Places) -> dict[str, Any]:
    """Verdicts as the map shows them, by mark and colour, with a text each."""
    texts = {
        f"stations:{one.station}": f"Station {places.station_label.get(one.station, one.station)}: "
        f"{STATION_WORDS[one.verdict]}. {one.reason}"
        for one in proof.stations
    }
    stations = {one.station: one.verdict.value for one in proof.stations}
    return {"shown": {"verdict": {"areas": {}, "stations": stations}}, "texts": texts}


def why_not_rehearse(visit: Visit, stored: StoredNight | None) -> str | None:
    """Why the rehearse button is not there, or None."""
    if not visit.course.settings.site.invented:
        return "Rehearsals write an invented log; they are offered in a demo course only."
    if stored is None:
        return "Only an approved night can be rehearsed."
    return why_not(visit.person.role, Deed.REHEARSE)
