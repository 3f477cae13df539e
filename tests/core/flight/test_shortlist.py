"""The shortlist at its edges: reach, windows, light, runways, and the numerics of nothing at all."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np
import pytest

from refuge.aircraft.timeline import FunctionEnd
from refuge.airfield import Airfield, Runway, Station
from refuge.earth import Position
from refuge.flight.entries import entries, summary
from refuge.flight.minimums import FLOOR, Minimums
from refuge.flight.question import Question, Wind
from refuge.flight.shortlist import Shortlist, as_if_dry, build
from refuge.flight.situation import Situation
from refuge.flight.words import explain
from refuge.weather.conditions import Conditions
from refuge.weather.reports import Observation
from tests.core.flight import situations as s
from tests.core.reference import rows

GOOD = s.conditions(s.SKC, 10.0)
NIGHT = datetime(2024, 2, 29, 6, 0, tzinfo=UTC)  # midnight over the middle of North America


def world(
    where: Position = s.HERE, *, now: datetime = s.NOW, field: Airfield | None = None, **of_field: object
) -> Situation:
    """Return one airfield with a station that reports good weather."""
    place = s.station("XA", where)
    field = s.airfield("F", where, station="XA") if field is None else field
    return s.situation(
        [replace(field, **of_field)],  # type: ignore[arg-type]
        [place],
        reports=[s.report("XA", GOOD, now=now)],
        now=now,
    )


def verdict(question: Question, known: Situation, check: str) -> str:
    return explain(build(question, known), 0)[check].verdict  # type: ignore[index]


# --- nothing at all ------------------------------------------------------------------------------------


def test_no_airfields() -> None:
    for known in (s.situation([]), replace(world(), airfields=())):
        found = build(s.question(), known)
        assert found.verdict.size == found.order.size == found.meeting == 0
        assert found.certainty == ()
        assert list(entries(found)) == []
        assert "no airfield" in summary(found)


def test_no_stations_and_stations_never_heard() -> None:
    field = s.airfield("F", s.at(90.0, 5.0), station="XA")
    unheard = s.situation([field], [s.station("XA", s.at(90.0, 5.0))])
    for known in (s.situation([field]), unheard):
        found = build(s.question(), known)
        checks = explain(found, 0)
        assert {name: checks[name].verdict for name in ("reach", "weather", "area", "break_out")} == {
            "reach": "meets", "weather": "unknown", "area": "unknown", "break_out": "unknown",
        }  # fmt: skip
        assert found.word(0) == "unknown"
        assert summary(found).startswith("0 of 1 airfield in question meet, 0 miss, 1 is unknown. In the way")
    assert "XA at the field was never heard" in explain(build(s.question(), unheard), 0)["weather"].why


# --- reach ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("information_min", "dependable", "distance_nm", "expected"),
    [
        (120.0, True, 30.0, "meets"),
        (120.0, False, 30.0, "unknown"),
        (None, True, 30.0, "unknown"),
        (None, True, 0.0, "unknown"),
        (20.0, True, 30.0, "misses"),  # a budget of nothing
        (20.0, True, 0.0, "misses"),  # the descent takes 5 min
        (20.0, False, 30.0, "misses"),
        (0.0, True, 0.0, "misses"),
        (600.0, True, 210.0, "meets"),
        (600.0, True, 212.0, "misses"),  # planning looks no further than 120 min: method.md 2
    ],
)
def test_reach(information_min: float | None, *, dependable: bool, distance_nm: float, expected: str) -> None:
    lasts = s.endurance(information_min, dependable=dependable)
    where = s.at(90.0, distance_nm)
    found = build(s.question(lasts=lasts, altitude_ft=5000.0), world(where))
    assert explain(found, 0)["reach"].verdict == expected
    assert np.isfinite(found.lack).all()


def test_at_or_below_the_lowest_safe_height_there_is_no_descent() -> None:
    for altitude in (2500.0, 1500.0, 0.0):
        found = build(s.question(altitude_ft=altitude), world())
        assert found.basis.arrival.break_out_min[0] == 0.0
    found = build(s.question(altitude_ft=5000.0, lowest_safe_ft_amsl=None), world())
    assert found.basis.arrival.break_out_min[0] == 8.0  # down to the field: 4,000 ft at 500 ft/min
    assert explain(found, 0)["break_out"].verdict == "unknown"


def test_a_wind_stronger_than_the_aircraft() -> None:
    gale = Wind(dir_deg_true=90.0, speed_kt=130.0)
    upwind = build(s.question(wind=gale), world(s.at(90.0, 20.0)))
    assert explain(upwind, 0)["reach"].verdict == "misses"
    entry = next(entries(upwind))
    assert (entry.minutes, entry.break_out_min, entry.window, entry.arrival_latest) == (None, None, None, None)
    assert verdict(s.question(wind=gale), world(s.HERE), "reach") == "meets"
    assert verdict(s.question(wind=gale), world(s.at(270.0, 20.0)), "reach") == "meets"


def test_unknown_wind_is_unknown_reach() -> None:
    question = s.question(wind=None)
    assert verdict(question, world(s.at(90.0, 5.0)), "reach") == "unknown"
    assert next(entries(build(question, world(s.at(90.0, 5.0))))).gs_kt is None


# --- windows and error radius -------------------------------------------------------------------------


# method.md 4: 30 min up to 2 h ahead, 45 to 4 h, 60 beyond; from break-out 10 min to the landing
@pytest.mark.parametrize(
    ("fails_in_min", "pad_min"), [(0, 30), (110, 30), (111, 45), (230, 45), (231, 60), (600, 60)]
)
def test_windows(fails_in_min: float, pad_min: float) -> None:
    arrival = build(s.question(fails_in_min=fails_in_min), world()).basis.arrival
    overhead = s.NOW + timedelta(minutes=fails_in_min + 5)
    start = max(s.NOW, overhead - timedelta(minutes=pad_min))
    assert arrival.start_s[0] == start.timestamp()
    assert arrival.end_s[0] == (overhead + timedelta(minutes=5 + 10 + pad_min)).timestamp()


def test_the_slip_of_a_planned_flight_widens_the_window() -> None:
    one, other = (build(replace(s.question(), slip_min=slip), world()).basis.arrival for slip in (0.0, 30.0))
    assert other.end_s[0] - one.end_s[0] == 1800
    assert other.start_s[0] == one.start_s[0]


def test_the_timing_error_is_that_of_the_latest_arrival_slip_included() -> None:
    """Break-out 90 min ahead on time, 120 with the slip: 30 min; a minute later 45 (method.md 4)."""
    for fails_in_min, pad_min in ((80, 30), (81, 45)):
        found = build(replace(s.question(fails_in_min=fails_in_min), slip_min=30.0), world()).basis.arrival
        assert found.end_s[0] - found.landed_s[0] == 60 * pad_min


def test_no_window_starts_before_now_or_ends_before_it_starts() -> None:
    arrival = build(s.question(fails_in_min=-300), world()).basis.arrival
    assert arrival.start_s[0] == arrival.end_s[0] == s.NOW.timestamp()


@pytest.mark.parametrize(
    ("navigation", "radius_nm"),
    [
        # 60 NM at 110 kt (TAS less 10 of wind error): 32.7 min, all of it blind: 6 NM and 10 kt x 0.545 h
        (FunctionEnd(state="absent"), 6.0 + 5.45),
        (FunctionEnd(state="unknown"), 6.0 + 5.45),
        (FunctionEnd(state="until", end_min=0.0), 6.0 + 5.45),
        (FunctionEnd(state="until", end_min=5.0 + 60 * 30 / 110), 3.0 + 2.73),  # half of the way is blind
        (FunctionEnd(state="until", end_min=90.0), 3.0),
        (FunctionEnd(state="not_limited"), 3.0),
    ],
)
def test_error_radius_grows_from_where_navigation_ends(navigation: FunctionEnd, radius_nm: float) -> None:
    """method.md 3: max(3 NM, 10 % of the distance flown without navigation) plus 10 kt x hours."""
    found = build(s.question(lasts=s.endurance(navigation=navigation)), world(s.at(90.0, 60.0)))
    assert found.basis.fields.error_radius_nm[0] == pytest.approx(radius_nm, abs=0.01)


def test_a_fast_aircraft_is_not_credited_with_a_small_radius() -> None:
    fast = replace(s.AIRCRAFT, cruise_tas_kt=310.0)
    blind = s.endurance(160.0, navigation=FunctionEnd(state="absent"))
    found = build(s.question(aircraft=fast, lasts=blind), world(s.at(90.0, 550.0)))
    assert found.basis.fields.error_radius_nm[0] == pytest.approx(55.0 + 10 * 550 / 300)


# --- light and runways ---------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("light"), ids=lambda row: row["id"])
def test_light_at_arrival(row: dict[str, str]) -> None:
    now = NIGHT if row["night"] == "yes" else s.NOW
    question = s.question(now=now, handheld=row["handheld"] == "yes")
    assert verdict(question, world(now=now, lights=row["lights"]), "light") == row["verdict"]


@pytest.mark.parametrize("lights", s.LIGHTS)
def test_by_day_no_lights_are_needed(lights: s.Lights) -> None:
    assert verdict(s.question(), world(lights=lights), "light") == "meets"
    expected = {"dusk_to_dawn": "meets", "unknown": "unknown"}.get(lights, "misses")
    assert verdict(s.question(now=NIGHT), world(now=NIGHT, lights=lights), "light") == expected


def test_night_asks_for_more_and_may_not_be_planned() -> None:
    low = replace(world(now=NIGHT), observations={"XA": s.report("XA", s.conditions(1800, 10.0), now=NIGHT)})
    assert verdict(s.question(now=NIGHT), low, "weather") == "misses"  # floor: 1,500 ft by day, 2,000 by night
    day = replace(world(), observations={"XA": s.report("XA", s.conditions(1800, 10.0))})
    assert verdict(s.question(), day, "weather") == "meets"
    by_day = replace(FLOOR, night="not planned")
    assert verdict(s.question(now=NIGHT, minimums=by_day), world(now=NIGHT), "light") == "misses"
    assert verdict(s.question(minimums=by_day), world(), "light") == "meets"


def runway(
    length_ft: int | None,
    surface: Literal["hard", "soft", "water", "unknown"] = "hard",
    *,
    closed: bool = False,
) -> Runway:
    return Runway(idents="09/27", length_ft=length_ft, surface=surface, closed=closed)


@pytest.mark.parametrize(
    ("runways", "expected"),
    [
        (None, "unknown"),
        ((), "unknown"),
        ((runway(2000),), "meets"),
        ((runway(1999),), "misses"),
        ((runway(None),), "unknown"),
        ((runway(3000, "soft"),), "misses"),
        ((runway(3000, "unknown"),), "unknown"),
        ((runway(3000, "water"),), "misses"),
        ((runway(3000, closed=True),), "misses"),
        ((runway(1000), runway(3000, "soft"), runway(2500)), "meets"),
        ((runway(1000), runway(None)), "unknown"),
    ],
)
def test_runways(runways: tuple[Runway, ...] | None, expected: str) -> None:
    asked = replace(FLOOR, runway_length_ft=2000.0, hard_surface=True)
    assert verdict(s.question(minimums=asked), world(runways=runways), "runway") == expected
    # Where nothing is asked only what is closed, or water, is looked at.
    nowhere = bool(runways) and all(strip.closed or strip.surface == "water" for strip in runways or ())
    unasked = "misses" if nowhere else "not_checked"
    assert verdict(s.question(), world(runways=runways), "runway") == unasked


def test_a_surface_alone_may_be_asked() -> None:
    asked = replace(FLOOR, hard_surface=True)
    assert verdict(s.question(minimums=asked), world(runways=(runway(None),)), "runway") == "meets"
    crosswind = replace(FLOOR, max_crosswind_kt=15.0)
    assert verdict(s.question(minimums=crosswind), world(runways=(runway(5000),)), "runway") == "unknown"


def test_what_is_not_looked_at_says_so_and_does_not_count() -> None:
    found = build(s.question(), world())
    checks = explain(found, 0)
    assert found.word(0) == "meets"
    assert checks["airspace"].verdict == checks["notices"].verdict == "not_checked"
    assert "no airspace is loaded" in checks["airspace"].why


# --- poles, date line, order -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("here", "field"),
    [
        (Position(lat_deg=-17.0, lon_deg=179.98), Position(lat_deg=-17.0, lon_deg=-179.98)),
        (Position(lat_deg=-17.0, lon_deg=180.0), Position(lat_deg=-17.0, lon_deg=-180.0)),
        (Position(lat_deg=89.95, lon_deg=0.0), Position(lat_deg=89.95, lon_deg=180.0)),
        (Position(lat_deg=90.0, lon_deg=0.0), Position(lat_deg=90.0, lon_deg=120.0)),
        (Position(lat_deg=-90.0, lon_deg=0.0), Position(lat_deg=-89.9, lon_deg=-60.0)),
    ],
)
def test_stations_bear_across_the_date_line_and_the_poles(here: Position, field: Position) -> None:
    known = s.situation(
        [s.airfield("F", field)], [s.station("XA", here)], reports=[s.report("XA", s.conditions(8000, 10.0))]
    )
    found = build(s.question(where=here), known)
    checks = explain(found, 0)
    assert {checks[name].verdict for name in ("reach", "weather", "area", "break_out", "icing")} == {"meets"}


def three() -> tuple[list[Airfield], list[Station]]:
    places = [s.at(90.0, 25.0), s.at(180.0, 50.0), s.at(270.0, 70.0)]
    stations = [s.station(name, where) for name, where in zip(("XA", "XB", "XC"), places, strict=True)]
    return [s.airfield(f"F{x.id}", p, station=x.id) for x, p in zip(stations, places, strict=True)], stations


def order(found: Shortlist) -> list[str]:
    return [entry.airfield.id for entry in entries(found)]


def young(name: str, said: Conditions) -> Observation:
    return s.report(name, said, age_min=5.0)


def test_best_first_then_unknown_then_misses_by_how_little_they_lack() -> None:
    fields, stations = three()
    low, lower = s.conditions(1400, 10.0), s.conditions(300, 10.0)
    reports = [young("XA", lower), young("XB", low), young("XC", GOOD)]
    assert order(build(s.question(lowest_safe_ft_amsl=1000.0), s.situation(fields, stations, reports=reports))) == [
        "FXC",
        "FXB",
        "FXA",
    ]
    reports = [young("XA", s.conditions(s.NO_SKY, 10.0)), young("XB", low), young("XC", GOOD)]
    assert order(build(s.question(lowest_safe_ft_amsl=1000.0), s.situation(fields, stations, reports=reports))) == [
        "FXC",
        "FXA",
        "FXB",
    ]
    # a TEMPO that lacks much comes before a prevailing ceiling that lacks little: method.md 1
    tempo = s.group("TEMPO", -1, 6, lower)
    mixed = s.situation(
        fields[:2], stations[:2], reports=[young("XA", GOOD), young("XB", low)],
        forecasts=[s.forecast("XA", GOOD, tempo)],
    )  # fmt: skip
    assert order(build(s.question(lowest_safe_ft_amsl=1000.0), mixed)) == ["FXA", "FXB"]


def test_the_lack_is_the_shortfall_over_the_minimum() -> None:
    """interface.md: the largest shortfall over its minimum, 1 where it is no number."""

    def lack(said: Conditions, minimums: Minimums = FLOOR) -> float:
        known = replace(world(), observations={"XA": s.report("XA", said)})
        return float(build(s.question(minimums=minimums, lowest_safe_ft_amsl=1000.0), known).lack[0])

    assert lack(GOOD) == 0.0
    assert lack(s.conditions(1200, 10.0)) == pytest.approx(300 / 1500)
    assert lack(s.conditions(1200, 1.5)) == pytest.approx(0.5)
    assert lack(s.conditions(s.SKC, 10.0, ("TS",))) == 1.0
    late = build(s.question(lasts=s.endurance(50.0)), world(s.at(90.0, 110.0)))
    assert late.lack[0] == pytest.approx((60 + 5 - 30) / 30)  # 110 NM at 110 kt and 5 min down; budget 30


def test_a_safe_height_below_the_field_proves_nothing() -> None:
    """14 CFR 91.177: 1,000 ft over the ground. A "safe" height under that over the field cannot hold it."""
    high = world(s.at(90.0, 20.0), elevation_ft=1500.0)
    assert verdict(s.question(lowest_safe_ft_amsl=2400.0), high, "break_out") == "unknown"
    assert verdict(s.question(lowest_safe_ft_amsl=2500.0), high, "break_out") == "meets"


@pytest.mark.parametrize(("away_nm", "expected"), [(3.0, "unknown"), (8.0, "meets")])
def test_a_lowest_safe_height_that_a_station_near_belies_proves_nothing(away_nm: float, expected: str) -> None:
    """method.md 5: 1,000 ft over the highest ground of the corridor, 4 NM or the error radius (3 NM here)."""
    field = s.airfield("F", s.HERE, station="XA", elevation_ft=1000.0)
    hill = s.station("XB", s.at(0.0, away_nm), elevation_ft=1900.0)
    reports = [s.report("XA", s.conditions(8000, 10.0)), s.report("XB", s.conditions(8000, 10.0))]
    known = s.situation([field], [s.station("XA", s.HERE, elevation_ft=1001.0), hill], reports=reports)
    assert explain(build(s.question(lowest_safe_ft_amsl=2000.0), known), 0)["break_out"].verdict == expected
    assert explain(build(s.question(lowest_safe_ft_amsl=2900.0), known), 0)["break_out"].verdict == "meets"


def test_instruments_that_end_before_recognition_reach_nothing() -> None:
    """method.md 2: the clock runs from the failure; what ends before it is noticed brings nobody anywhere."""
    overhead = world(s.HERE)
    assert verdict(s.question(lasts=s.endurance(3.0), altitude_ft=2500.0), overhead, "reach") == "misses"
    # C4 and C5 (reference.md 3.6): with a budget of 0 only what lies overhead can be reached.
    assert verdict(s.question(lasts=s.endurance(20.0), altitude_ft=2500.0), overhead, "reach") == "meets"
    # With less than recognition and margin take, the margin is not kept even overhead.
    assert verdict(s.question(lasts=s.endurance(19.9), altitude_ft=2500.0), overhead, "reach") == "misses"


def test_as_if_dry_only_where_nothing_meets_and_pitot_heat_shortens() -> None:
    long, short = s.endurance(120.0), s.endurance(20.0)
    iced = replace(short, dry=long)
    found = build(s.question(lasts=iced), world())
    dry = as_if_dry(found)
    assert found.meeting == 0
    assert dry is not None
    assert dry.verdict.tolist() == build(s.question(lasts=long), world()).verdict.tolist()
    assert dry.meeting == 1
    assert as_if_dry(build(s.question(lasts=short), world())) is None
    assert as_if_dry(build(s.question(lasts=replace(long, dry=s.endurance(130.0))), world())) is None
