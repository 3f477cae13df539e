"""Why the weather at an airfield, or in the area around it, came out as it did, in words."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from refuge.flight.around import around, around_words
from refuge.flight.bearing import AREA_NM, BORROW_FORECAST_NM, BORROW_REPORT_NM
from refuge.flight.evidence import (
    PROVED_BY_ANY_TAF_FT,
    PROVED_BY_ANY_TAF_SM,
    REPORT_CARRIES_MIN,
    REPORT_WITH_NOSIG_CARRIES_MIN,
    STALE_AFTER_MIN,
    Answer,
    Judged,
    Pairs,
)
from refuge.flight.phrases import ceiling_phrase, clock, shortcomings, visibility_phrase
from refuge.flight.shortlist import Shortlist
from refuge.flight.situation import is_old
from refuge.flight.state_arrays import States
from refuge.flight.verdict import MEETS, MISSES, UNKNOWN
from refuge.units import miles

MOST_SHOWN = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """One ask of the weather, with the pairs it rests on, to be put in words."""

    shortlist: Shortlist
    index: int
    ask: int
    answer: Answer
    report_pairs: Pairs
    forecast_pairs: Pairs

    def parts(self) -> Iterator[tuple[States, Pairs, Judged]]:
        """Yield the states, pairs and judgements of reports, then of forecasts."""
        weather = self.shortlist.basis.network.weather
        yield weather.reports, self.report_pairs, self.answer.reports
        yield weather.forecasts, self.forecast_pairs, self.answer.forecasts

    def station(self, station: int) -> str:
        """Return the identifier of a station."""
        return self.shortlist.basis.network.stations[station].id


def weather_words(shortlist: Shortlist, index: int) -> str:
    """Return what the weather at one airfield came to: its shortcomings, misses first, or what it rests on."""
    weighed = shortlist.basis.weighed
    asked = _Asked(
        shortlist=shortlist,
        index=index,
        ask=index,
        answer=weighed.answer,
        report_pairs=weighed.report_pairs,
        forecast_pairs=weighed.forecast_pairs,
    )
    found = [*_state_words(asked), *_rule_words(asked)]
    if not found:
        return "; ".join(_meeting_words(asked))
    shown = list(dict.fromkeys(found))
    more = f"; and {len(shown) - MOST_SHOWN} more" if len(shown) > MOST_SHOWN else ""
    return "; ".join([*shown[:MOST_SHOWN], *_disagreement(asked)]) + more


def _disagreement(asked: _Asked) -> Iterator[str]:
    """Yield which stations disagree about one place, of those that are heard: the worst of them counts."""
    fresh = asked.shortlist.basis.network.weather.facts.fresh
    for kind, (_, pairs, judged) in zip(("reports", "forecasts"), asked.parts(), strict=True):
        mine = np.flatnonzero((pairs.ask == asked.ask) & (judged.row >= 0))
        mine = mine[fresh[pairs.station[mine]]] if kind == "reports" else mine
        good = [asked.station(int(s)) for s in pairs.station[mine[judged.code[mine] == MEETS]]]
        bad = [asked.station(int(s)) for s in pairs.station[mine[judged.code[mine] == MISSES]]]
        if good and bad:
            yield (
                f"{kind} disagree: {', '.join(good[:MOST_SHOWN])} good, {', '.join(bad[:MOST_SHOWN])} not;"
                " the worst of them counts"
            )


def _state_words(asked: _Asked) -> Iterator[str]:
    """Yield what the worst state of each pair of an ask lacks, misses first."""
    network = asked.shortlist.basis.network
    for states, pairs, judged in asked.parts():
        mine = np.flatnonzero(pairs.ask == asked.ask)
        for pair in mine[np.argsort(judged.code[mine], kind="stable")]:
            row, station = int(judged.row[pair]), int(pairs.station[pair])
            stale = states is network.weather.reports and not network.weather.facts.fresh[station]
            if judged.code[pair] == MEETS or row < 0 or stale:
                continue
            state = states.rows[row]
            required_ft, required_sm = float(pairs.required_ft[pair]), float(pairs.required_sm[pair])
            lacking = list(shortcomings(state.conditions, required_ft, required_sm))
            if not lacking and pairs.doubt_ceiling[pair]:
                lacking = ["its height or the field's is not known, so its ceiling cannot be carried over"]
            if not lacking and pairs.doubt_visibility[pair]:
                lacking = ["by night with a small spread its visibility is not carried across 300 ft of height"]
            if not lacking and (required_ft > state.proved_ft or required_sm > state.proved_sm):
                lacking = ["good, but the chance of less, or of thunder, is 10 % or more, or not known"]
            if lacking:
                yield f"{asked.station(station)} {state.label}: {', '.join(lacking)}"


def _rule_words(asked: _Asked) -> Iterator[str]:
    """Yield what the rules of method.md 4 leave open for an ask: silent, stale, too far ahead."""
    answer, ask = asked.answer, asked.ask
    yield from _silence(asked)
    yield from _forecast_doubts(asked)
    minutes = float(answer.minutes_from_report[ask])
    if not answer.has_report[ask] and not answer.has_forecast[ask]:
        yield (
            f"no station that this store has heard within {BORROW_REPORT_NM:.0f} NM (reports) or"
            f" {BORROW_FORECAST_NM:.0f} NM (forecasts) and 1,000 ft of elevation{_never_heard(asked)}"
        )
    elif not answer.has_report[ask] and minutes <= REPORT_WITH_NOSIG_CARRIES_MIN:
        yield "a forecast without any report is not enough within two hours"
    elif not answer.has_forecast[ask] and minutes > REPORT_CARRIES_MIN and answer.code[ask] == UNKNOWN:
        yield (
            f"no forecast: a report alone carries {REPORT_CARRIES_MIN:.0f} min, and the latest arrival is"
            f" {minutes:.0f} min after it"
        )
    basis = asked.shortlist.basis
    if answer.doubtful[ask] and is_old(basis.situation.data_as_of, basis.question.now):
        yield "no bulletin has come in for hours: the forecast may have been replaced since, it is not relied on"
    elif answer.doubtful[ask]:
        yield "the forecast is not borne out by its station's report, or that is silent: it is not relied on"
    for element, bears in (("ceiling", answer.bears_ceiling[ask]), ("visibility", answer.bears_visibility[ask])):
        if answer.has_report[ask] and not bears:
            yield f"no station that bears on it has ever reported a {element}"


def _silence(asked: _Asked) -> Iterator[str]:
    network = asked.shortlist.basis.network
    for station in asked.report_pairs.station[asked.report_pairs.ask == asked.ask]:
        if network.weather.facts.fresh[station]:
            continue
        observation = network.observations[station]
        if observation is None or observation.nil:
            yield f"{asked.station(station)} is silent: no report of a station that has reported before"
        else:
            yield (
                f"{asked.station(station)} report {clock(observation.observed_at)} is stale"
                f" (older than {STALE_AFTER_MIN:.0f} min)"
            )


def _forecast_doubts(asked: _Asked) -> Iterator[str]:
    """Yield why forecasts of an ask prove nothing although no state in them misses."""
    basis, i = asked.shortlist.basis, asked.index
    facts, arrival, pairs = basis.network.weather.facts, basis.arrival, asked.forecast_pairs
    for pair in np.flatnonzero(pairs.ask == asked.ask):
        station = int(pairs.station[pair])
        name, covered_to = asked.station(station), float(facts.covered_to_s[station])
        if asked.answer.forecasts.code[pair] != UNKNOWN:
            continue
        what = "guidance" if basis.network.arrays.guidance[station] else "forecast"
        if not np.isfinite(covered_to):
            yield f"{name} has had {what} before, and none that counts is known now"
        elif arrival.end_s[i] > covered_to:
            yield f"the window runs past the end of the {what} of {name} ({clock(covered_to)})"
        elif arrival.start_s[i] < facts.covered_from_s[station]:
            yield f"the window begins before the {what} of {name}"
        elif not facts.full_taf[station]:
            yield (
                f"the forecast of {name} need not mention changes above {PROVED_BY_ANY_TAF_FT:,.0f} ft and"
                f" {miles(PROVED_BY_ANY_TAF_SM)} SM, and no report near enough in time backs it"
            )


def _never_heard(asked: _Asked) -> str:
    station = asked.shortlist.basis.airfields[asked.index].station_id
    if station is None or station in asked.shortlist.basis.network.index:
        return ""
    return f"; {station} at the field was never heard by this store"


def _meeting_words(asked: _Asked) -> Iterator[str]:
    """Yield what an ask that meets rests on, with the values of its worst states."""
    for states, pairs, judged in asked.parts():
        for pair in np.flatnonzero(pairs.ask == asked.ask)[:MOST_SHOWN]:
            row = int(judged.row[pair])
            if row >= 0:
                said = states.rows[row].conditions
                what = f"{ceiling_phrase(said.ceiling)}, {visibility_phrase(said.visibility)}"
                yield f"{asked.station(int(pairs.station[pair]))} {states.rows[row].label}: {what}"


def area_words(shortlist: Shortlist, index: int) -> str:
    """Return which stations around an airfield spoil the area, or which prove it."""
    weighed, network = shortlist.basis.weighed, shortlist.basis.network
    radius = max(float(shortlist.basis.arrival.error_radius_nm[index]), AREA_NM)
    asks = np.flatnonzero(weighed.area_inquiry.field == index)
    if not asks.size:
        return f"no reporting station within {radius:.0f} NM bears on the area"
    codes = weighed.area_answer.code[asks]
    names = [network.stations[int(s)].id for s in weighed.area_stations[asks]]
    for code, word in ((MISSES, "misses"), (UNKNOWN, "is unknown")):
        spoiling = [name for name, each in zip(names, codes, strict=True) if each == code]
        if spoiling:
            more = f" and {len(spoiling) - MOST_SHOWN} more" if len(spoiling) > MOST_SHOWN else ""
            named = f"{', '.join(spoiling[:MOST_SHOWN])}{more} {word}"
            return f"{named} ({_stations(len(asks))} within {radius:.0f} NM){_partly(shortlist, index)}"
    for element, bears in (
        ("ceiling", weighed.area_answer.bears_ceiling[asks]),
        ("visibility", weighed.area_answer.bears_visibility[asks]),
    ):
        if not bears.any():
            return f"of {_stations(len(asks))} within {radius:.0f} NM none tells of the {element}"
    meets = "the one station" if len(asks) == 1 else f"all {len(asks)} stations"
    named = f"{meets} within {radius:.0f} NM meet{'s' if len(asks) == 1 else ''}: {', '.join(names[:MOST_SHOWN])}"
    return named + _partly(shortlist, index)


def _stations(count: int) -> str:
    return "1 station" if count == 1 else f"{count} stations"


def _partly(shortlist: Shortlist, index: int) -> str:
    """Return how much of the error circle is good, where it is part of it, and a good station that is alone."""
    found = around(shortlist, index)
    told = 0.0 < found.shares.good < 1.0 or found.lone is not None
    return f"; {around_words(found)}" if told else ""
