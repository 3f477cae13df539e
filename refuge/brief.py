"""The brief of a roster, first form: one line a flight and aircraft, what wants a second look first."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import datetime
from functools import partial
from typing import TypeVar

import numpy as np

from refuge.aircraft.airframe import Aircraft
from refuge.aircraft.case import parse_failure
from refuge.earth import Position, distances_nm
from refuge.errors import InputError, MissingDataError, RefugeError
from refuge.files.roster import FLAGS, NUMBERS, RosterRow
from refuge.flight.briefing import BadRow, Brief, Line, data_warnings
from refuge.flight.minimums import Minimums
from refuge.flight.route import Plan, Stretch, as_if_dry, build, why_gap
from refuge.options import RouteOptions, at_least_zero, finite, parse_wind
from refuge.planning import route_question
from refuge.store.documents import DocumentKind
from refuge.store.engine import Store, reading
from refuge.wiring import altitude_of, named_aircraft, named_minimums
from refuge.world import World, read_world
from refuge.zulu import iso, parse_instant

AircraftOf = Callable[[str], Aircraft]
MinimumsOf = Callable[[str], Minimums]
NO_LENGTH_NM = 1.0
"""A way that nowhere leads farther away than this is a slip of the pen."""
_T = TypeVar("_T")


class BrokenOffError(RefugeError):
    """Somebody said stop before the brief was done."""


def _go_on() -> bool:
    return True


def brief(
    rows: Sequence[RosterRow | BadRow],
    world: World,
    *,
    now: datetime,
    aircraft_of: AircraftOf,
    minimums_of: MinimumsOf,
    go_on: Callable[[], bool] = _go_on,
) -> Brief:
    """Return the brief of a roster: a bad row takes nothing from the others.

    Parameters
    ----------
    rows : sequence of RosterRow or BadRow
        The roster.
    world : World
        What the store knew at `now`.
    now : datetime
        When the brief is made.
    aircraft_of, minimums_of : callable
        Know aircraft and minimums by name.
    go_on : callable, optional
        Asked before each flight.

    Raises
    ------
    MissingDataError
        If there is no airfield at all.
    BrokenOffError
        If `go_on` says no.
    """
    if not world.places.ordered:
        raise MissingDataError("the store has no airfields", remedy="load them with: refuge import airfields")
    lines: list[Line] = []
    bad = [row for row in rows if isinstance(row, BadRow)]
    for row in rows:
        if isinstance(row, BadRow):
            continue
        fit, faults = _fit(row, world, now=now, aircraft_of=aircraft_of, minimums_of=minimums_of)
        bad += faults
        for name, aircraft, minimums in fit:
            if not go_on():
                raise BrokenOffError("told to stop before the brief was done")
            try:
                lines.append(_line(row, name, (aircraft, minimums), world, now=now))
            except RefugeError as exc:
                bad.append(BadRow(line=row.line, flight=row.cells["flight"], reason=f"{name}: {exc}"))
    return Brief(
        as_of=now,
        data_as_of=world.weather.data_as_of,
        warnings=(*_warnings(world, now), *_unfilled(lines)),
        lines=tuple(sorted(lines, key=lambda line: (line.plan.within_budget, -line.plan.gap_min, line.line))),
        bad=tuple(sorted(bad, key=lambda row: row.line)),
    )


def brief_in_store(
    rows: Sequence[RosterRow | BadRow],
    engine: Store,
    store: str | None,
    *,
    now: datetime,
    go_on: Callable[[], bool] = _go_on,
) -> Brief:
    """Return the brief of a roster as an open store gives it; `store` is its name, by which the demo's is known.

    Raises
    ------
    MissingDataError, BrokenOffError
        As `brief` does.
    """
    with reading(engine) as conn:
        world = read_world(conn, now)

    def kept(kind: DocumentKind, name: str) -> str | None:
        return world.documents[kind].get(name)

    return brief(
        rows,
        world,
        now=now,
        aircraft_of=partial(named_aircraft, store=store, kept=kept),
        minimums_of=partial(named_minimums, store=store, kept=kept),
        go_on=go_on,
    )


def options_of(row: RosterRow, aircraft: str) -> RouteOptions:
    """Return what a row asks for one aircraft.

    Raises
    ------
    InputError
        If a cell cannot be used.
    """
    return RouteOptions(
        at=row.places[0],
        places=row.places,
        departs=row.cells["departs"],
        aircraft=aircraft,
        minimums=row.cells["minimums"],
        altitude=row.number("altitude_ft"),
        failure=row.cells["failure"] or "alternator",
        wind=row.cells["wind"] or None,
        lowest_safe=row.number("lowest_safe_ft"),
        oat_c=row.number("oat_c"),
        soak_c=row.number("soak_c"),
        fuel_min=row.number("fuel_min"),
        margin_min=row.number("margin_min"),
        torch=row.flag("torch"),
        handheld=row.flag("handheld"),
    )


def _warnings(world: World, now: datetime) -> Iterator[str]:
    weather = world.weather
    ends = (forecast.valid_to for forecasts in weather.forecasts.values() for forecast in forecasts)
    return data_warnings(
        now,
        received=weather.data_as_of,
        observed=max((report.observed_at for report in weather.observations.values()), default=None),
        forecast_until=max((end for end in ends if end is not None), default=None),
    )


def _unfilled(lines: Sequence[Line]) -> Iterator[str]:
    """Yield which aircraft of the flights are templates that nobody filled in, each once."""
    flown = (line.plan.asked.question.aircraft for line in lines)
    yield from dict.fromkeys(f"{each.id}: {each.unfilled_said}" for each in flown if each.unfilled_said)


def _fit(
    row: RosterRow, world: World, *, now: datetime, aircraft_of: AircraftOf, minimums_of: MinimumsOf
) -> tuple[list[tuple[str, Aircraft, Minimums]], list[BadRow]]:
    """Return what of a row can be flown, and all that is wrong with it.

    What is wrong with the row is so for all its aircraft; an aircraft that cannot be used leaves the others.
    """
    faults, gone, unknown = _faults(row, world), [*_gone(row, now)], list[str]()
    minimums = _read(faults, "minimums", minimums_of, row.cells["minimums"])
    known = {name: _read(unknown, f"aircraft {name}", aircraft_of, name) for name in row.aircraft}
    flight = row.cells["flight"]
    if faults or gone or minimums is None:
        reasons = [*gone, *faults, *unknown]
        reason, past = "; ".join(reasons), reasons == gone
        return [], [BadRow(line=row.line, flight=flight, reason=reason, faults=tuple(reasons), past=past)]
    return (
        [(name, aircraft, minimums) for name, aircraft in known.items() if aircraft is not None],
        [BadRow(line=row.line, flight=flight, reason=reason) for reason in unknown],
    )


def _faults(row: RosterRow, world: World) -> list[str]:
    """Return every mistake in the cells of a row that shows before the flight is worked out."""
    found: list[str] = []
    places = [_read(found, column, world.position, place) for column, place in row.named_places]
    if not found and _no_length([place for place in places if place is not None]):
        found.append(
            f"to: a flight of no length, {row.cells['from']} to {row.cells['to']} (name a place under via)"
        )
    _read(found, "departs", parse_instant, row.cells["departs"])
    before = len(found)
    numbers = {column: _read(found, column, _number, row, column) for column in NUMBERS}
    if len(found) == before:
        _read(found, "altitude_ft", altitude_of, numbers["altitude_ft"], numbers["lowest_safe_ft"])
    if row.cells["wind"]:
        _read(found, "wind", parse_wind, row.cells["wind"])
    _read(found, "failure", parse_failure, row.cells["failure"] or "alternator")
    for column in FLAGS:
        _read(found, column, row.flag, column)
    return found


def _no_length(places: Sequence[Position]) -> bool:
    """Return whether a way goes nowhere: every place of it is where it begins."""
    lat, lon = (np.array([getattr(place, name) for place in places]) for name in ("lat_deg", "lon_deg"))
    apart = distances_nm(np.full(lat.shape, lat[:1]), np.full(lon.shape, lon[:1]), lat, lon)
    return bool((apart < NO_LENGTH_NM).all())


def _number(row: RosterRow, column: str) -> float | None:
    value = finite(row.number(column), column)
    return at_least_zero(value, column) if column.endswith("_min") else value


def _gone(row: RosterRow, now: datetime) -> Iterator[str]:
    """Yield that a flight had begun before the brief was made, if it had."""
    with suppress(InputError):
        departs = parse_instant(row.cells["departs"])
        if departs < now:
            yield f"departs: {iso(departs)} is past, the brief is as of {iso(now)}"


def _read(faults: list[str], column: str, parse: Callable[..., _T], *given: object) -> _T | None:
    """Return what is made of a cell; what is wrong with it, where and the remedy are added to `faults`."""
    try:
        return parse(*given)
    except InputError as exc:
        inside = exc.where is not None and not exc.where.startswith("--") and exc.where != column
        said = f"{column}: {exc.where}: {exc.what}" if inside else f"{column}: {exc.what}"
        faults.append(f"{said} ({exc.remedy})" if exc.remedy else said)
        return None


def _line(row: RosterRow, name: str, parties: tuple[Aircraft, Minimums], world: World, *, now: datetime) -> Line:
    plan = build(*route_question(options_of(row, name), parties, world, now=now))
    worst = max(plan.gaps, key=lambda gap: gap.to_min - gap.from_min, default=None)
    best = max(plan.chances, key=lambda chance: chance.best_for_min, default=None)
    return Line(
        line=row.line,
        flight=row.cells["flight"],
        places=row.places,
        aircraft=name,
        plan=plan,
        worst=worst,
        best=None if best is None else plan.field(best.field).id,
        best_min=0 if best is None else best.best_for_min,
        breaks=_hangs_on(plan) if worst is None else _why(plan, worst),
    )


def _why(plan: Plan, worst: Stretch) -> str:
    """Return what breaks a flight: what stands in the way in its worst gap, and what of it is pitot heat."""
    reason, dry = why_gap(plan, worst).why, as_if_dry(plan)
    if dry is None:
        return reason
    return f"airspeed ends with pitot heat in cloud (as if dry: {dry.gap_min} gap minutes); {reason}"


def _hangs_on(plan: Plan) -> str:
    """Return what a flight without a gap hangs on: the minutes in which all refuges share their evidence."""
    if not plan.chances:
        dark = f" ({plan.visual_night_min} min of it by night)" if plan.visual_night_min else ""
        return f"no refuge at all: visual the whole way{dark}, by the same evidence"
    alone = [pairs for pairs, ways in zip(plan.ranked, plan.ways, strict=True) if ways == 1]
    if not alone:
        return "two independent ways in every minute"
    name, _ = Counter(plan.field(int(plan.meeting.field[pairs[0]])).id for pairs in alone).most_common(1)[0]
    return f"{len(alone)} min hang on one way, mostly on {name}"
