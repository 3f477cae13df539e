"""What is shown of a shortlist: one entry an airfield, in words and values; made only for what is shown."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from refuge.airfield import Airfield
from refuge.flight.around import Around, around
from refuge.flight.certainty import Certainty, certainty_words
from refuge.flight.compass import Turn, timed_turn
from refuge.flight.decide import CheckName
from refuge.flight.evidence import REPORT_WITH_NOSIG_CARRIES_MIN, STALE_AFTER_MIN
from refuge.flight.landing_words import advice, best_end, density_altitude_words, marks
from refuge.flight.runways import EndWind
from refuge.flight.shortlist import Shortlist
from refuge.flight.situation import Guided
from refuge.flight.steps import evidence_step
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN, Check, Word
from refuge.flight.words import NO_WIND, explain, reasons
from refuge.weather.conditions import Conditions
from refuge.weather.expected import worst_of
from refuge.weather.sky import CeilingAt, NoCeiling, UnknownCeiling

OVERHEAD_NM = 0.5
MOST_HEADS = 5
"""Nearer than this a heading means nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One report or forecast that an entry rests on; ``time`` is ``None`` where the station is silent.

    ``time`` is that of the observation or of the issue, ``stale_at`` when it stops counting.
    """

    kind: str
    station: str
    time: datetime | None
    stale_at: datetime | None
    distance_nm: float
    borrowed: bool
    raw: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One airfield of a shortlist. Minutes count from the turn; ``None`` is "never" or "not known".

    ``heading_deg_compass`` and ``turn`` are those to set out with, ``None`` where the true heading means
    nothing (overhead, never reached) or the compass is of no use. ``independent_way`` numbers the way it belongs
    to: refuges of one way hang on the same evidence.
    """

    airfield: Airfield
    verdict: Word
    reasons: tuple[str, ...]
    checks: Mapping[CheckName, Check]
    track_deg_true: float
    heading_deg_true: float
    heading_deg_compass: float | None
    turn: Turn | None
    gs_kt: float | None
    distance_nm: float
    minutes: float | None
    break_out_min: float | None
    spare_min: float | None
    error_radius_nm: float
    arrival_earliest: datetime | None
    arrival_latest: datetime | None
    window: tuple[datetime, datetime] | None
    night: bool
    prevailing: Conditions
    adverse: Conditions
    evidence: tuple[Evidence, ...]
    evidence_step: str
    certainty: Certainty
    certainty_why: tuple[str, ...]
    lack: float
    marks: tuple[str, ...]
    best_runway: EndWind | None
    density_altitude: str | None
    advice: tuple[str, ...]
    around: Around
    independent_way: int | None


def entries(shortlist: Shortlist, limit: int | None = None) -> Iterator[Entry]:
    """Yield entries best first, all of them or the first `limit`; everything that meets is among them."""
    most = shortlist.order.size if limit is None else max(limit, shortlist.meeting)
    for index in shortlist.order[:most]:
        yield entry(shortlist, int(index))


def entry(shortlist: Shortlist, i: int) -> Entry:
    """Return the entry of the airfield at index `i`."""
    arrival, way = shortlist.basis.arrival, shortlist.basis.arrival.reach
    checks, budget = explain(shortlist, i), arrival.budget_min
    break_out = _minutes(float(arrival.break_out_min[i]))
    reached = break_out is not None
    prevailing, adverse = _conditions(shortlist, i)
    compass, turn = _steer(shortlist, i)
    return Entry(
        airfield=shortlist.basis.airfields[i],
        verdict=shortlist.word(i),
        reasons=reasons(checks),
        checks=checks,
        track_deg_true=float(way.track_deg_true[i]),
        heading_deg_true=float(way.heading_deg_true[i]),
        heading_deg_compass=compass,
        turn=turn,
        gs_kt=float(way.gs_kt[i]) if way.wind_known[i] else None,
        distance_nm=float(way.distance_nm[i]),
        minutes=_minutes(float(way.minutes[i])),
        break_out_min=break_out,
        spare_min=None if budget is None or break_out is None else budget - break_out,
        error_radius_nm=float(arrival.error_radius_nm[i]),
        arrival_earliest=_instant(float(arrival.earliest_s[i])) if reached else None,
        arrival_latest=_instant(float(arrival.latest_s[i])) if reached else None,
        window=(_instant(float(arrival.start_s[i])), _instant(float(arrival.end_s[i]))) if reached else None,
        night=bool(arrival.night[i]),
        prevailing=prevailing,
        adverse=adverse,
        evidence=tuple(_evidence(shortlist, i)),
        evidence_step=evidence_step(shortlist, i),
        certainty=shortlist.certainty[i],
        certainty_why=tuple(certainty_words(shortlist.factors, i)),
        lack=float(shortlist.lack[i]),
        marks=marks(shortlist, i),
        best_runway=best_end(shortlist, i),
        density_altitude=density_altitude_words(shortlist, i),
        advice=advice(shortlist, i),
        around=around(shortlist, i),
        independent_way=int(shortlist.ways.way[i]) or None,
    )


def _steer(shortlist: Shortlist, i: int) -> tuple[float | None, Turn | None]:
    """Return the heading by compass towards an airfield, and the turn to it from the heading of now."""
    way, compass, now = shortlist.basis.arrival.reach, shortlist.basis.compass, shortlist.basis.question.heading
    if way.distance_nm[i] < OVERHEAD_NM or not np.isfinite(way.minutes[i]):
        return None, None
    heading = float(way.heading_deg_true[i])
    reading = compass.reading(heading)
    from_true = None if now is None else compass.true(now)
    return (
        None if reading is None else float(reading),
        None if from_true is None else timed_turn(from_true, heading),
    )


def _minutes(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(round(seconds), tz=UTC)


def _conditions(shortlist: Shortlist, i: int) -> tuple[Conditions, Conditions]:
    """Return what to expect over the field, prevailing and adverse: the worst of each element, for showing."""
    basis, weighed = shortlist.basis, shortlist.basis.weighed
    weather = basis.network.weather
    window = np.array([basis.arrival.start_s[i]]), np.array([basis.arrival.end_s[i]])
    usual: list[Conditions] = []
    worst: list[Conditions] = []
    for states, near, ask in (
        (weather.reports, weighed.inquiry.reports, weighed.inquiry.report_ask),
        (weather.forecasts, weighed.inquiry.forecasts, weighed.inquiry.forecast_ask),
    ):
        for pair in np.flatnonzero(ask == i):
            s, of_report = int(near.station[pair]), states is weather.reports
            gap = _report_gap(shortlist, i, s) if of_report else _forecast_gap(shortlist, i, s)
            if gap is not None:
                worst += [worst_of([], gap)] if gap else []
            if gap is not None and of_report:
                continue
            _, rows = states.touching(np.array([s]), *window)
            for row in rows:
                state = states.rows[int(row)]
                worst.append(_over_field(shortlist, i, s, state.conditions))
                observation = basis.network.observations[s]
                if state.prevailing:
                    said = observation.body if of_report and observation else state.conditions
                    usual.append(_over_field(shortlist, i, s, said))
    reason = "no report or forecast bears on it"
    return worst_of(usual, reason), worst_of(worst, reason)


def _report_gap(shortlist: Shortlist, i: int, s: int) -> str | None:
    """Return why a report says nothing of the arrival: "" where that is too far ahead, ``None`` where it does."""
    facts, arrival = shortlist.basis.network.weather.facts, shortlist.basis.arrival
    name, now_s = shortlist.basis.network.stations[s].id, shortlist.basis.question.now.timestamp()
    since = float(facts.observed_s[s]) if facts.fresh[s] else now_s
    if float(arrival.latest_s[i]) - since > 60.0 * REPORT_WITH_NOSIG_CARRIES_MIN:
        return ""
    return None if facts.fresh[s] else f"{name} is silent or stale"


def _forecast_gap(shortlist: Shortlist, i: int, s: int) -> str | None:
    """Return what a forecast leaves open of the window; ``None`` where it covers all of it."""
    facts, arrival = shortlist.basis.network.weather.facts, shortlist.basis.arrival
    covered = arrival.start_s[i] >= facts.covered_from_s[s] and arrival.end_s[i] <= facts.covered_to_s[s]
    return None if covered else f"no forecast of {shortlist.basis.network.stations[s].id} covers all of the window"


def _over_field(shortlist: Shortlist, i: int, s: int, conditions: Conditions) -> Conditions:
    """Return conditions of a station as they are over the field: a borrowed ceiling carried by height."""
    fields, stations = shortlist.basis.fields, shortlist.basis.network.arrays
    if fields.station[i] == s:
        return conditions
    ceiling = conditions.ceiling
    if not (fields.height_known[i] and stations.height_known[s]):
        best = ceiling.ft_agl if isinstance(ceiling, CeilingAt) else None
        doubt = UnknownCeiling(reason="heights of field and station are not both known", at_best_ft_agl=best)
        return conditions if isinstance(ceiling, UnknownCeiling) else replace(conditions, ceiling=doubt)
    lift = min(0, round(float(stations.elevation_ft[s] - fields.elevation_ft[i])))
    match ceiling:
        case CeilingAt(ft_agl=ft):
            ceiling = CeilingAt(ft_agl=max(0, ft + lift))
        case NoCeiling(none_below_ft=int(below)):
            ceiling = replace(ceiling, none_below_ft=max(0, below + lift))
        case UnknownCeiling(at_best_ft_agl=int(best)):
            ceiling = replace(ceiling, at_best_ft_agl=max(0, best + lift))
        case _:
            pass
    return replace(conditions, ceiling=ceiling)


def _evidence(shortlist: Shortlist, i: int) -> Iterator[Evidence]:
    """Yield the reports, then the forecasts, that an airfield rests on, nearest first."""
    network, inquiry = shortlist.basis.network, shortlist.basis.weighed.inquiry
    own = int(shortlist.basis.fields.station[i])
    for near, of_report in ((inquiry.reports, True), (inquiry.forecasts, False)):
        pairs = np.flatnonzero(near.field == i)
        for pair in pairs[np.argsort(near.distance_nm[pairs], kind="stable")]:
            s, distance = int(near.station[pair]), float(near.distance_nm[pair])
            name, borrowed = network.stations[s].id, s != own
            if of_report:
                report = network.observations[s]
                yield Evidence(
                    kind="METAR" if report is None else report.kind,
                    station=name,
                    time=None if report is None else report.observed_at,
                    stale_at=None if report is None else report.observed_at + timedelta(minutes=STALE_AFTER_MIN),
                    distance_nm=distance,
                    borrowed=borrowed,
                    raw=None if report is None else " ".join(report.raw.split()),
                )
                continue
            if network.arrays.guidance[s]:
                yield _guidance(network.guidance[s], name, distance, borrowed=borrowed)
                continue
            newest = max(network.forecasts[s], key=lambda forecast: forecast.issued_at, default=None)
            yield Evidence(
                kind="TAF",
                station=name,
                time=None if newest is None else newest.issued_at,
                stale_at=None if newest is None else newest.valid_to,
                distance_nm=distance,
                borrowed=borrowed,
                raw=None if newest is None else " ".join(newest.raw.split()),
            )


def _guidance(guided: Guided | None, name: str, distance_nm: float, *, borrowed: bool) -> Evidence:
    """Return guidance as evidence: the newest of its blocks; silent where there is none now."""
    newest = max(() if guided is None else guided.blocks, key=lambda block: block.based_on, default=None)
    return Evidence(
        kind="guidance" if newest is None else newest.product,
        station=name,
        time=None if newest is None else newest.based_on,
        stale_at=None if newest is None else newest.times[-1],
        distance_nm=distance_nm,
        borrowed=borrowed,
        raw=None if newest is None else newest.raw,
    )


def summary(shortlist: Shortlist) -> str:
    """Return one line: how many meet, or what stands in the way for most when none does."""
    verdict = shortlist.verdict
    total, meets, misses = verdict.size, shortlist.meeting, int((verdict == MISSES).sum())
    unknown = total - meets - misses
    counts = (
        f"{meets} of {total} airfield{'' if total == 1 else 's'} in question meet{_s(meets)},"
        f" {misses} miss{'es' if misses == 1 else ''}, {unknown} {'is' if unknown == 1 else 'are'} unknown"
    )
    if meets:
        return f"{counts}{_independence(shortlist)}"
    if not total:
        return "no airfield lies in question: nothing within reach of the position"
    stands = Counter[str]()
    for name, codes in shortlist.codes.items():
        stands[name] = int((codes < MEETS).sum())
    obstacle, count = stands.most_common(1)[0]
    return f"{counts}. In the way for most ({count}): {_obstacle(shortlist, obstacle)}"


def _s(number: int) -> str:
    """Return the ending of a verb after so many."""
    return "s" if number == 1 else ""


def _independence(shortlist: Shortlist) -> str:
    """Return how many independent ways there are among several refuges, and what each hangs on first."""
    ways, total = shortlist.ways, shortlist.meeting
    if total < 2:
        return ""
    heads = ", ".join(shortlist.basis.airfields[head].id for head in ways.heads[:MOST_HEADS])
    if ways.count == 1:
        return f". They hang on the same evidence: one way, not {total} (best: {heads})"
    more = ", ..." if ways.count > MOST_HEADS else ""
    rest = "" if ways.count == total else "; the rest hang on the same evidence"
    return f". Independent of each other: {ways.count} ways ({heads}{more}){rest}"


def _too_far(shortlist: Shortlist) -> str:
    """Return what keeps most from being reached: that no wind is known, or the time that there is."""
    short = shortlist.codes["reach"] < MEETS
    if 2 * int((short & ~shortlist.basis.arrival.reach.wind_known).sum()) >= int(short.sum()):
        return NO_WIND
    lit = shortlist.basis.question.endurance.with_torch
    torch = f" (by night, a torch would make it {lit}: --torch)" if lit else ""
    return f"the time that the instruments last, in this wind{torch}"


def _darkness(shortlist: Shortlist) -> str:
    """Return what keeps most from being seen: that their lights are known not to burn, or are not known."""
    question, codes = shortlist.basis.question, shortlist.codes["light"]
    if question.minimums.night == "not planned":
        return "darkness: the minimums do not plan for night"
    if int((codes == MISSES).sum()) < int((codes == UNKNOWN).sum()):
        return "darkness: lights that burn without a radio are not known"
    alone = "" if question.handheld else " without a radio"
    return f"darkness: no lights that burn{alone} through the landing, at most of them"


def _obstacle(shortlist: Shortlist, name: str) -> str:
    """Return what a check that fails nearly everywhere comes from, and what would help."""
    question = shortlist.basis.question
    if name == "reach" and shortlist.basis.arrival.budget_min is None:
        return "nobody knows how long the instruments last"
    if name == "reach" and not question.endurance.dependable:
        return f"the endurance cannot be depended on ({'; '.join(question.endurance.doubts) or 'see its warnings'})"
    texts = {
        "reach": _too_far(shortlist),
        "weather": "the weather at arrival, or that nobody reports or forecasts it",
        "area": "the weather in the area around the airfields",
        "break_out": "the ground below the cloud"
        + (" (no terrain data: give --lowest-safe)" if question.lowest_safe_ft_amsl is None else ""),
        "icing": "icing on the way down"
        + (" (the temperature at the level is not known: give --oat)" if question.oat_c is None else ""),
        "light": _darkness(shortlist),
        "runway": "runways, as the minimums ask for them",
    }
    return texts.get(name, name)
