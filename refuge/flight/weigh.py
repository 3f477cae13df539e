"""The weather of many airfields at once: who is asked, and what the answers come to.

Three kinds of asks go through refuge.flight.evidence in one pass each: the airfield itself, on its
own station or on borrowed ones; every station of the area around it, all of which must meet; and
the cloud base over that area, which must clear the ground.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from refuge.flight.arrival import Arrival
from refuge.flight.bearing import (
    AREA_NM,
    BORROW_FORECAST_NM,
    BORROW_HEIGHT_FT,
    BORROW_REPORT_NM,
    FieldArrays,
    Near,
    StationArrays,
    base_pairs,
    near_pairs,
    requirement_pairs,
    within_height,
)
from refuge.flight.evidence import Answer, Asks, Pairs, answer, any_with, least_per_ask
from refuge.flight.state_arrays import NOT_KNOWN, Bools, Floats, Ints, States
from refuge.flight.station_weather import Network
from refuge.flight.verdict import Codes, at_best_unknown

CORRIDOR_NM = 4.0
"""To either side of the way, or the error radius if that is more (method.md 5; 14 CFR 91.177)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inquiry:
    """A set of asks: the field of each, and the near pairs behind reports and forecasts.

    ``reports`` and ``forecasts`` hold, for each pair, its field and station and how far apart they
    are; ``report_ask`` and ``forecast_ask`` the ask it belongs to.
    """

    field: Ints
    reports: Near
    report_ask: Ints
    forecasts: Near
    forecast_ask: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What the weather comes to at n fields, with what it rests on.

    Arrays have shape (n,). ``lowest_base_ft_amsl`` is the lowest cloud base of any state in the
    window, at the field and at the stations of the area: the ground where a ceiling at the field is unknown, inf
    where there is none; ``freezing`` tells of both too; ``unsaid`` where something that bears says nothing of
    the window. ``prevailing`` is the weather without what is temporary or probable; it orders, and is no verdict.
    ``area_stations`` has the station of each ask of ``area_inquiry``. ``ground_ft_amsl`` is the highest ground
    known of a station other than the field's own within the corridor (-inf: of none).
    """

    inquiry: Inquiry
    report_pairs: Pairs
    forecast_pairs: Pairs
    answer: Answer
    weather: Codes
    prevailing: Codes
    area: Codes
    area_inquiry: Inquiry
    area_stations: Ints
    area_answer: Answer
    base: Codes | None
    ground_ft_amsl: Floats
    lowest_base_ft_amsl: Floats
    unsaid: Bools
    freezing: Bools
    convective: Bools


def weigh(
    fields: FieldArrays,
    network: Network,
    arrival: Arrival,
    now_s: float,
    least_base_ft: float | None,
    *,
    links: "Links | None" = None,
) -> Weighed:
    """Return what the weather comes to at every field, at its own window of arrival.

    `links` are those of `network`, worked out here if not given.
    """
    stations, n = network.arrays, fields.lat_deg.size
    links = links or forecast_links(stations)
    radius_nm = np.maximum(fields.error_radius_nm, AREA_NM)
    within_nm = np.maximum(radius_nm, BORROW_FORECAST_NM)
    near = near_pairs(fields.lat_deg, fields.lon_deg, stations.lat_deg, stations.lon_deg, within_nm)
    inquiry = field_inquiry(fields, stations, kept_of(near, near.distance_nm <= BORROW_FORECAST_NM))
    asks = _asks(inquiry, arrival, now_s)
    report_pairs = requirement_pairs(fields, stations, inquiry.reports, inquiry.report_ask)
    forecast_pairs = requirement_pairs(fields, stations, inquiry.forecasts, inquiry.forecast_ask, sensors=False)
    said = answer(asks, network.weather, report_pairs, forecast_pairs)
    unsaid = _unsaid(network, asks, report_pairs, forecast_pairs)
    usually = answer(asks, network.weather, report_pairs, forecast_pairs, prevailing_only=True)
    around = kept_of(near, near.distance_nm <= radius_nm[near.field])
    low = kept_of(around, ~far_above(fields, stations, around))
    area_inquiry = area_inquiry_of(low, links, stations.reports)
    there, around_it = (inquiry, asks), (area_inquiry, _asks(area_inquiry, arrival, now_s))
    area_said = _area(fields, network, *around_it, low.station)
    over, base = area_inquiry_of(around, links, stations.reports), None
    if least_base_ft is not None:
        based = _bases(fields, network, over, _asks(over, arrival, now_s), least_base_ft)
        base = over_fields(n, over.field, based, around.distance_nm <= AREA_NM)
    return Weighed(
        inquiry=inquiry, report_pairs=report_pairs, forecast_pairs=forecast_pairs, answer=said, weather=said.code,
        prevailing=usually.code, area=over_fields(n, area_inquiry.field, area_said, low.distance_nm <= AREA_NM),
        area_inquiry=area_inquiry, area_stations=low.station, area_answer=area_said, base=base,
        ground_ft_amsl=_ground_ft_amsl(fields, stations, near),
        lowest_base_ft_amsl=_lowest_ft_amsl(fields, network, there, around_it, unsaid), unsaid=unsaid,
        freezing=_any_state(n, network, (there, around_it), "freezing"),
        convective=_any_state(n, network, (there,), "convective"),
    )  # fmt: skip


def _ground_ft_amsl(fields: FieldArrays, stations: StationArrays, near: Near) -> Floats:
    """Return the highest station within the error radius, or the corridor of 4 NM, of each field; -inf for none.

    Its own stands on the field, whatever a list rounds its height to.
    """
    within_nm = np.maximum(fields.error_radius_nm, CORRIDOR_NM)[near.field]
    kept = (near.distance_nm <= within_nm) & stations.height_known[near.station]
    kept &= fields.station[near.field] != near.station
    highest = np.full(fields.lat_deg.shape, -np.inf)
    np.maximum.at(highest, near.field[kept], stations.elevation_ft[near.station[kept]])
    return highest


def _area(fields: FieldArrays, network: Network, area: Inquiry, asks: Asks, stations: Ints) -> Answer:
    """Return what the stations around say, each for the minimums of the field."""
    return answer(
        asks,
        network.weather,
        requirement_pairs(fields, network.arrays, area.reports, area.report_ask),
        requirement_pairs(
            fields,
            network.arrays,
            area.forecasts,
            area.forecast_ask,
            sensors=False,
            via=stations[area.forecast_ask],
        ),
        must_bear=False,
    )


def _bases(fields: FieldArrays, network: Network, over: Inquiry, asks: Asks, least_base_ft: float) -> Answer:
    """Return what the stations around say of the cloud base above sea level."""
    return answer(
        asks,
        network.weather,
        base_pairs(fields, network.arrays, over.reports, over.report_ask, least_base_ft),
        base_pairs(fields, network.arrays, over.forecasts, over.forecast_ask, least_base_ft, sensors=False),
        must_bear=False,
    )


def over_fields(n: int, field: Ints, said: Answer, near_enough: Bools | None = None) -> Codes:
    """Return the worst code of each field's asks; unknown at best where none of them bears for an element.

    Asks that are not `near_enough` (asks,) can spoil and cannot bear: a larger error radius may reach a station
    far away, and no field comes to meet by that.
    """
    worst, _ = least_per_ask(n, field, said.code)
    bears = np.ones(field.shape, dtype=bool) if near_enough is None else near_enough
    ceiling = np.bincount(field[said.bears_ceiling & bears], minlength=n) > 0
    visibility = np.bincount(field[said.bears_visibility & bears], minlength=n) > 0
    return np.where(ceiling & visibility, worst, at_best_unknown(worst)).astype(np.int8)


def _asks(inquiry: Inquiry, arrival: Arrival, now_s: float) -> Asks:
    f = inquiry.field
    return Asks(
        start_s=arrival.start_s[f],
        end_s=arrival.end_s[f],
        arrival_latest_s=arrival.latest_s[f],
        now_s=now_s,
        late_by_min=arrival.slip_min,
    )


def kept_of(near: Near, kept: Bools) -> Near:
    """Return some of the pairs."""
    return Near(field=near.field[kept], station=near.station[kept], distance_nm=near.distance_nm[kept])


def far_above(fields: FieldArrays, stations: StationArrays, near: Near) -> Bools:
    """Return where the station stands over 1,000 ft above the field: it bears only through its base."""
    known = fields.height_known[near.field] & stations.height_known[near.station]
    above = stations.elevation_ft[near.station] - fields.elevation_ft[near.field]
    return known & (above > BORROW_HEIGHT_FT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Links:
    """For each station the forecast stations that speak for it: ``target[first[s] : first[s] + count[s]]``."""

    first: Ints
    count: Ints
    target: Ints


def forecast_links(stations: StationArrays) -> Links:
    """Return whose forecasts speak for each station: its own, or those it borrows like a field does."""
    n = stations.lat_deg.size
    near = near_pairs(
        stations.lat_deg, stations.lon_deg, stations.lat_deg, stations.lon_deg, np.full(n, BORROW_FORECAST_NM)
    )
    known = stations.height_known[near.field] & stations.height_known[near.station]
    height = np.abs(stations.elevation_ft[near.field] - stations.elevation_ft[near.station])
    level = ~known | (height <= BORROW_HEIGHT_FT)
    kept = speaking(
        stations, near, near.field == near.station, level,
        own_forecasts=stations.forecasts, own_guidance=stations.guidance,
    )  # fmt: skip
    source, target = near.field[kept], near.station[kept]
    count = np.bincount(source, minlength=n).astype(np.int64)
    return Links(first=(np.cumsum(count) - count).astype(np.int64), count=count, target=target)


def field_inquiry(fields: FieldArrays, stations: StationArrays, near: Near) -> Inquiry:
    """Return one ask a field: its own station and that one's forecast, or what it borrows of those `near`."""
    n = fields.lat_deg.size
    own = fields.station[near.field] == near.station
    at = fields.station >= 0
    own_reports, own_forecasts, own_guidance = (np.zeros(n, dtype=bool) for _ in range(3))
    own_reports[at] = stations.reports[fields.station[at]]
    own_guidance[at] = stations.guidance[fields.station[at]]
    own_forecasts[at] = stations.forecasts[fields.station[at]]
    level = within_height(fields, stations, near)
    reports = np.where(
        own_reports[near.field],
        own,
        stations.reports[near.station] & level & (near.distance_nm <= BORROW_REPORT_NM),
    )
    forecasts = speaking(stations, near, own, level, own_forecasts=own_forecasts, own_guidance=own_guidance)
    # A station at the field without a forecast borrows one like the field itself: the same place.
    report_near, forecast_near = kept_of(near, reports), kept_of(near, forecasts)
    return Inquiry(
        field=np.arange(n),
        reports=report_near,
        report_ask=report_near.field,
        forecasts=forecast_near,
        forecast_ask=forecast_near.field,
    )


def speaking(
    stations: StationArrays, near: Near, own: Bools, level: Bools, *, own_forecasts: Bools, own_guidance: Bools
) -> Bools:
    """Return which near pairs are a forecast of their place, by the hierarchy of method.md 4 (shape (pairs,)).

    Its own TAF alone; else its own guidance, and beside it every TAF that it may borrow: guidance overrides
    none that is worse; else TAFs that it may borrow; else guidance that it may borrow. `own` marks the pairs of a
    place and its own station, `level` those within 1,000 ft; the last two, by place, say what is its own. All of it
    hangs on what was ever heard, so that nothing that is missing now changes who is asked.
    """
    taf = stations.forecasts[near.station] & level
    any_taf = np.zeros(own_forecasts.shape, dtype=bool)
    any_taf[near.field[taf]] = True
    place = near.field
    guidance = np.where(own_guidance[place], own, ~any_taf[place] & level) & stations.guidance[near.station]
    return np.where(own_forecasts[place], own, taf | guidance)


def area_inquiry_of(around: Near, links: Links, reporting: Bools) -> Inquiry:
    """Return one ask for each station around each field: its report, and the forecasts that speak for it.

    `reporting` (stations,) says which stations were ever heard to report.
    """
    count = links.count[around.station]
    ask = np.repeat(np.arange(around.field.size), count)
    offset = np.arange(ask.size) - np.repeat(np.cumsum(count) - count, count)
    target = links.target[links.first[around.station][ask] + offset]
    field = around.field[ask]
    return Inquiry(
        field=around.field,
        reports=kept_of(around, reporting[around.station]),
        report_ask=np.flatnonzero(reporting[around.station]),
        forecasts=Near(field=field, station=target, distance_nm=around.distance_nm[ask]),
        forecast_ask=ask,
    )


def _unsaid(network: Network, asks: Asks, reports: Pairs, forecasts: Pairs) -> Bools:
    """Return where a station is silent, a forecast does not cover the window, or heights are not known."""
    facts, n = network.weather.facts, asks.start_s.size
    start, end = asks.start_s[forecasts.ask], asks.end_s[forecasts.ask]
    covered = (start >= facts.covered_from_s[forecasts.station]) & (end <= facts.covered_to_s[forecasts.station])
    silent = ~facts.fresh[reports.station] | reports.doubt_ceiling
    told = network.weather.forecasts
    covered &= ~any_with(told, forecasts, start, end, told.freezing_open)
    return np.asarray(
        (np.bincount(reports.ask[silent], minlength=n) > 0)
        | (np.bincount(forecasts.ask[~covered | forecasts.doubt_ceiling], minlength=n) > 0)
    )


def _lowest_ft_amsl(
    fields: FieldArrays, network: Network, there: tuple[Inquiry, Asks], around: tuple[Inquiry, Asks], unsaid: Bools
) -> Floats:
    """Return the lowest cloud base above sea level in each field's window, at the field and around it."""
    own = lowest_base_ft_amsl(fields, network, *there, unsaid)
    return np.minimum(own, lowest_base_around_ft_amsl(fields, network, *around))


def lowest_base_ft_amsl(
    fields: FieldArrays, network: Network, inquiry: Inquiry, asks: Asks, unsaid: Bools
) -> Floats:
    """Return the lowest cloud base above sea level in each field's window: ground if unknown, inf if none.

    It is unknown where something `unsaid` bears.
    """
    ground = np.where(fields.height_known, fields.elevation_ft, 0.0)
    lowest = np.full(ground.shape, np.inf)
    any_state = np.zeros(ground.shape, dtype=bool)
    for states, near, pair, row in _in_windows(network, inquiry, asks):
        f, height = near.field[pair], _station_ft_amsl(fields, network, near, pair)
        base = np.where(states.ceiling_code[row] == NOT_KNOWN, 0.0, _cloud_from_ft(states, row)) + height
        np.minimum.at(lowest, f, base)
        any_state[f] = True
    return np.where(any_state & ~unsaid, lowest, np.minimum(lowest, ground))


def lowest_base_around_ft_amsl(fields: FieldArrays, network: Network, area: Inquiry, asks: Asks) -> Floats:
    """Return the lowest cloud base above sea level that any station around each field tells of; inf if none.

    The way down may lie over any of them. A ceiling unknown there is the area's matter, not told here.
    """
    lowest = np.full(fields.lat_deg.shape, np.inf)
    for states, near, pair, row in _in_windows(network, area, asks):
        untold = states.ceiling_code[row] == NOT_KNOWN
        base = np.where(untold, states.cloud_ft[row], _cloud_from_ft(states, row))
        np.minimum.at(lowest, near.field[pair], base + _station_ft_amsl(fields, network, near, pair))
    return lowest


def _station_ft_amsl(fields: FieldArrays, network: Network, near: Near, pair: Ints) -> Floats:
    """Return the height of the station of each pair, that of its field where nobody knows it."""
    f, s, stations = near.field[pair], near.station[pair], network.arrays
    ground = np.where(fields.height_known, fields.elevation_ft, 0.0)
    return np.where(stations.height_known[s], stations.elevation_ft[s], ground[f])


def _cloud_from_ft(states: States, row: Ints) -> Floats:
    """Return from which height above the station on there may be cloud of any amount; the ceiling is known."""
    # A value out of many that are possible proves no base above what its chances prove.
    proved = np.minimum(states.ceiling_ft[row], np.maximum(states.proved_ft[row], 0.0))
    # Few and scattered cloud ices like any other on the way down through it.
    return np.asarray(np.minimum(proved, states.cloud_ft[row]))


def _any_state(n: int, network: Network, asked: Iterable[tuple[Inquiry, Asks]], flag: str) -> Bools:
    """Return at which of n fields any state that is asked for in its window carries a flag."""
    found = np.zeros(n, dtype=bool)
    for inquiry, asks in asked:
        for states, near, pair, row in _in_windows(network, inquiry, asks):
            found[near.field[pair[getattr(states, flag)[row]]]] = True
    return found


def _in_windows(network: Network, inquiry: Inquiry, asks: Asks) -> Iterator[tuple[States, Near, Ints, Ints]]:
    """Yield, for reports that are fresh and for forecasts, the pairs and rows that touch the windows."""
    weather = network.weather
    for states, near, ask in (
        (weather.reports, inquiry.reports, inquiry.report_ask),
        (weather.forecasts, inquiry.forecasts, inquiry.forecast_ask),
    ):
        pair, row = states.touching(near.station, asks.start_s[ask], asks.end_s[ask])
        kept = (
            weather.facts.fresh[near.station[pair]]
            if states is weather.reports
            else np.ones(pair.shape, dtype=bool)
        )
        yield states, near, pair[kept], row[kept]
