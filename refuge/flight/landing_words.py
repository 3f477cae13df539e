"""Light, runway and airspace of one airfield in words, and what to do there without a radio."""

import math
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import numpy as np

from refuge.airfield import Airfield, Runway, ends_of
from refuge.flight.airspace import is_out
from refuge.flight.light import goes_out, has_lights, lights_code, tower_code, tower_open
from refuge.flight.phrases import clock, wind_phrase
from refuge.flight.runways import EndWind, end_winds, no_runway, worst_wind
from refuge.flight.shortlist import Shortlist
from refuge.flight.verdict import MEETS, MISSES
from refuge.local_hours import zone_of
from refuge.sun import Stays, sun_day

KINDS = {
    "prohibited": "prohibited area",
    "restricted": "restricted area",
    "adiz": "identification zone",
    "class_b": "class B airspace",
}
LIGHT_SIGNALS = (
    ("steady green", "cleared to land"),
    ("flashing green", "return for landing (steady green will follow)"),
    ("steady red", "give way, continue circling"),
    ("flashing red", "airport unsafe, do not land"),
    ("alternating red and green", "extreme caution"),
)
"""Light signals to an aircraft in flight: 14 CFR 91.125, AIM 4-3-13 (reference.md 7.1)."""
FEET_PER_HPA, FEET_PER_C = 30.0, 120.0
"""Of pressure altitude (reference.md S108), and of density altitude by degrees off standard (from memory)."""


def light_words(shortlist: Shortlist, i: int) -> str:
    """Return why the field can be seen at arrival, or not."""
    field = shortlist.basis.airfields[i]
    start, end = landing_window(shortlist, i)
    window = f"from {clock(start)} to {clock(end)}"
    if not shortlist.basis.arrival.night[i]:
        return f"the sun is up through the whole window, {window}"
    if shortlist.basis.question.minimums.night == "not planned":
        return f"{night_words(field, start, end)}, and the minimums do not plan for night"
    handheld = shortlist.basis.question.handheld
    parts = [f"{night_words(field, start, end)}; {lights_words(field, start, end, handheld=handheld)}"]
    if field.tower is not None and lights_code(field, start, end, handheld=handheld) != MEETS:
        parts.append(tower_words(field, start, end))
    if field.lights_detail.text:
        parts.append(f'the source says "{field.lights_detail.text}"')
    return "; ".join(parts)


def landing_window(shortlist: Shortlist, i: int) -> tuple[datetime, datetime]:
    """Return the window without the timing error: from the earliest arrival to the latest landing."""
    arrival = shortlist.basis.arrival
    return (
        datetime.fromtimestamp(round(float(arrival.earliest_s[i])), tz=UTC),
        datetime.fromtimestamp(round(float(arrival.landed_s[i])), tz=UTC),
    )


def night_words(field: Airfield, start: datetime, end: datetime) -> str:
    """Return from when to when it is dark around a window."""
    sun = sun_day(field.lat_deg, field.lon_deg, start + (end - start) / 2 - timedelta(hours=9))
    if isinstance(sun.set, Stays):
        return "night at arrival"
    return f"night at arrival (sunset {clock(sun.set)})" if sun.set <= end else "night at arrival"


def lights_words(field: Airfield, start: datetime, end: datetime, *, handheld: bool) -> str:
    """Return what burns there through a window of the night."""
    radio = "a handheld is aboard to turn them on" if handheld else "no handheld is aboard"
    match field.lights:
        case "dusk_to_dawn":
            return "lights burn from dusk to dawn without a radio"
        case "radio":
            return f"lights burn only when a radio turns them on: {radio}"
        case "none":
            return "the field has no lights"
        case "until":
            return _until_words(field, start, end, radio)
        case "unknown":
            known = "it has runway lights" if has_lights(field) else "nobody knows whether it has lights"
            return f"{known}, and nobody knows whether they burn without a radio"


def _until_words(field: Airfield, start: datetime, end: datetime, radio: str) -> str:
    detail, out = field.lights_detail, goes_out(field, start)
    hour = "" if detail.until_local is None else f"{detail.until_local:%H%M} local"
    then = {
        "radio": f"then a radio must turn them on: {radio}",
        "none": "then nothing",
        "unknown": "then nobody knows",
    }
    if out is None:
        return f"lights burn from dusk until {hour}, {then[detail.after]}; local time there is not known"
    if end <= out:
        return f"lights burn without a radio until {hour} ({clock(out)}), after the latest landing"
    return (
        f"lights burn from dusk until {hour} ({clock(out)}) only, before the latest landing; {then[detail.after]}"
    )


def tower_words(field: Airfield, start: datetime, end: datetime) -> str:
    """Return whether the tower is open through a window."""
    if field.tower is None:
        return "no tower is known"
    hours = f'hours "{field.tower.text}"' if field.tower.text else "hours not given"
    local = "" if zone_of(field.time_zone) else ", local time not known"
    match tower_open(field, start, end):
        case True:
            return f"the tower is open through the whole window ({hours})"
        case False:
            return f"the tower is not open through the whole window ({hours})"
        case None:
            return f"nobody knows whether the tower is open then ({hours}{local})"


def runway_words(shortlist: Shortlist, i: int) -> str:
    """Return what the minimums ask of the runway, what there is, and the best of it under the wind."""
    minimums, field = shortlist.basis.question.minimums, shortlist.basis.airfields[i]
    if field.runways and all(no_runway(runway) for runway in field.runways):
        return f"every runway is closed or water: {_list(field, night=False)}"
    asked = [
        *([f"{minimums.runway_length_ft:,.0f} ft"] if minimums.runway_length_ft is not None else []),
        *(["a hard surface"] if minimums.hard_surface else []),
        *(["lights"] if minimums.runway_length_ft is not None and shortlist.basis.arrival.night[i] else []),
        *([f"crosswind up to {minimums.max_crosswind_kt:.0f} kt"] if minimums.max_crosswind_kt is not None else []),
        *(["no private field"] if minimums.no_private else []),
    ]
    wish = f"asked for {', '.join(asked)}" if asked else "no minimum asks for a runway"
    if minimums.no_private and field.private is not False:
        return f"{wish}; " + ("the field is private" if field.private else "nobody knows whether it is private")
    if field.runways is None:
        return f"{wish}; runways unknown"
    has = f"has {_list(field, night=bool(shortlist.basis.arrival.night[i])) or 'none listed'}"
    # Where length or surface is lacking already the wind adds nothing.
    short = minimums.max_crosswind_kt is None and shortlist.codes["runway"][i] == MISSES
    return "; ".join([wish, has, *([] if short else _best_words(shortlist, i))])


def _list(field: Airfield, *, night: bool) -> str:
    return ", ".join(_runway_words(runway, night=night) for runway in field.runways or ())


def _runway_words(runway: Runway, *, night: bool) -> str:
    length = "length unknown" if runway.length_ft is None else f"{runway.length_ft:,} ft"
    ends = [
        f"{end.landing_ft:,} to land on {end.ident}"
        for end in ends_of(runway)
        if _displaced(runway, end.landing_ft)
    ]
    lit = {True: ", lit", False: ", no lights", None: ", lights unknown"}[runway.lighted] if night else ""
    short = f" ({', '.join(ends)})" if ends else ""
    return f"{runway.idents} {length}{short} {runway.surface}{lit}{', closed' if runway.closed else ''}"


def _displaced(runway: Runway, landing_ft: int | None) -> bool:
    return landing_ft is not None and landing_ft != runway.length_ft


def _best_words(shortlist: Shortlist, i: int) -> Iterator[str]:
    winds = shortlist.basis.surface_winds
    wind = worst_wind(winds, i)
    if wind is None:
        yield "no surface wind is known there"
        return
    strongest = f"surface wind at its strongest {wind_phrase(wind)}"
    best = best_end(shortlist, i)
    if best is None:
        yield strongest
    elif best.crosswind_kt is None or best.tailwind_kt is None:
        yield (
            f"{strongest}, so crosswind is not known"
            if wind_phrase(wind) == "wind unknown"
            else (f"{strongest}; the heading of runway {best.ident} is not known, so neither is its crosswind")
        )
    else:
        # Rounded against the pilot.
        along = math.ceil(best.tailwind_kt - 1e-6)
        tail = f"tailwind {along} kt" if along > 0 else "no tailwind"
        yield (
            f"{strongest}: best runway {best.ident}, at the worst crosswind"
            f" {math.ceil(best.crosswind_kt - 1e-6)} kt, {tail}"
        )
    if winds.doubtful[i]:
        yield "other winds may come: a station is silent, or no forecast covers the window"


def best_end(shortlist: Shortlist, i: int) -> EndWind | None:
    """Return the end to land on under every wind that may come; ``None`` where no open runway is known."""
    basis = shortlist.basis
    ends = end_winds(
        basis.airfields[i], i, basis.question.minimums, basis.surface_winds, night=bool(basis.arrival.night[i])
    )
    return ends[0] if ends else None


def airspace_words(shortlist: Shortlist, i: int) -> str:
    """Return what the line to the field meets."""
    basis = shortlist.basis
    parts = ["the primary field of class B airspace: a last resort only"] if basis.airfields[i].class_b else []
    met = sorted(basis.airspace.meetings(i), key=lambda m: not is_out(m))
    for meeting in met:
        name = f"{KINDS[meeting.area.kind]} {meeting.area.name} ({meeting.area.source})"
        where = (
            "the field lies in"
            if meeting.inside
            else "the line to it enters"
            if meeting.enters
            else "on the way out of"
        )
        last = ", a last resort only" if meeting.inside and meeting.area.kind in {"restricted", "class_b"} else ""
        parts.append(f"{where} {name}{last}")
    areas = basis.situation.areas
    if not areas:
        return "; ".join(
            [*parts, "no airspace is loaded here: look at the chart for prohibited areas and identification zones"]
        )
    if not parts:
        kinds = ", ".join(sorted({KINDS[area.kind] for area in areas}))
        parts.append(f"the straight line to it meets none of the {len(areas)} areas loaded around here ({kinds})")
    return "; ".join([*parts, "heights, hours and the error of the line are not looked at"])


def density_altitude_words(shortlist: Shortlist, i: int) -> str | None:
    """Return the density altitude by the nearest fresh report; ``None`` where too little is known."""
    basis = shortlist.basis
    near, field = basis.weighed.inquiry.reports, basis.airfields[i]
    mine = np.flatnonzero((near.field == i) & basis.network.weather.facts.fresh[near.station])
    if field.elevation_ft is None or not mine.size:
        return None
    report = basis.network.observations[int(near.station[mine[np.argmin(near.distance_nm[mine])]])]
    if report is None or report.temperature_c is None or report.pressure_hpa is None:
        return None
    pressure_ft = field.elevation_ft + FEET_PER_HPA * (1013.25 - report.pressure_hpa)
    standard_c = 15.0 - 1.98 * field.elevation_ft / 1000.0
    density_ft = pressure_ft + FEET_PER_C * (report.temperature_c - standard_c)
    return (
        f"density altitude about {math.ceil(density_ft / 100.0) * 100:,} ft"
        f" ({report.temperature_c:.0f} C, {report.pressure_hpa:.0f} hPa at {report.station})"
    )


def marks(shortlist: Shortlist, i: int) -> tuple[str, ...]:
    """Return in two words each what landing there hangs on: a handheld, a light gun, an emergency."""
    basis, field = shortlist.basis, shortlist.basis.airfields[i]
    start, end = landing_window(shortlist, i)
    night = bool(basis.arrival.night[i])
    lit = max(lights_code(field, start, end, handheld=False), tower_code(field, start, end))
    return (
        *(["needs handheld"] if night and shortlist.codes["light"][i] == MEETS and lit != MEETS else []),
        *(["light gun"] if tower_open(field, start, end) is not False else []),
        *(["own aircraft unlit"] if night else []),
        *(["last resort"] if basis.airspace.last_resort[i] else []),
    )


def advice(shortlist: Shortlist, i: int) -> tuple[str, ...]:
    """Return what to do there without a radio, in order (reference.md 7.1 to 7.4)."""
    return tuple(_advice(shortlist, i))


def _advice(shortlist: Shortlist, i: int) -> Iterator[str]:
    basis, field = shortlist.basis, shortlist.basis.airfields[i]
    start, end = landing_window(shortlist, i)
    night = bool(basis.arrival.night[i])
    if night:
        yield "hold the lowest safe height until the field's lights are identified"
        yield "without lights of its own nobody sees the aircraft"
        if basis.question.handheld and field.lights in {"radio", "until"}:
            yield "handheld on the field's frequency: 7 clicks within 5 s turn the lights up for 15 min (AIM 2-1-8)"
        if field.lights_detail.beacon:
            yield "its beacon burns by night: it shows where the field is, not the runway"
    if field.class_b:
        yield "class B needs a clearance: only on the pilot's emergency authority (14 CFR 91.3)"
    open_ = None if field.tower is None else tower_open(field, start, end)
    if open_ is not False:
        sure = "" if open_ else "if the tower is open: " if field.tower is not None else "if there is a tower: "
        yield (
            f"{sure}stay outside or above its airspace until the flow of traffic is clear, then join the pattern"
            " and watch the tower for a light; land only on steady green (AIM 4-2-13, 14 CFR 91.126-129)"
        )
        yield f"{sure}" + ", ".join(f"{light}: {meaning}" for light, meaning in LIGHT_SIGNALS) + " (14 CFR 91.125)"
        reply = "the usual answer by night is lights, which are lost" if night else "answer by rocking the wings"
        yield f"{sure}{reply}"
    if open_ is not True:
        sure = "if the tower is closed: " if field.tower is not None else "if there is none (none is known): "
        yield (
            f"{sure}overfly at least 500 ft above pattern height, look at the windsock, join downwind at 45"
            f" degrees; {_turns(field)}; nobody hears you (AIM 4-1-9)"
        )


def _turns(field: Airfield) -> str:
    right = [
        e.ident
        for runway in field.runways or ()
        if not no_runway(runway)
        for e in ends_of(runway)
        if e.right_traffic
    ]
    return (
        f"left turns, right turns for runway {', '.join(right)}"
        if right
        else "left turns unless the chart says right"
    )
