"""Which airfields have which evidence: small places by hand, and every field against a plain loop."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from refuge.airfield import Airfield, Runway
from refuge.flight.coverage import KINDS, as_listed, coverage, holes
from refuge.flight.question import Question
from refuge.flight.situation import Situation
from tests.core.flight import situations as s
from tests.core.flight.worlds import worlds

LONG = (Runway(idents="09/27", length_ft=2000, surface="hard"),)


def kind_of(number: int) -> str:
    return KINDS[number]


def test_each_kind_by_hand() -> None:
    """Borrowed within 20 NM (report), 30 NM (forecast) and 1,000 ft (method.md 4)."""
    stations = [
        s.station("XA", s.at(0.0, 0.0)),
        s.station("XB", s.at(90.0, 200.0)),
        s.station("XC", s.at(90.0, 400.0)),
    ]
    hearing = {"XA": s.HEARD, "XB": s.REPORTS_ONLY, "XC": s.FORECASTS_ONLY}
    fields = [
        s.airfield("own", s.at(0.0, 0.0), station="XA", runways=LONG),
        s.airfield("lent", s.at(0.0, 19.0), runways=LONG),
        s.airfield("told", s.at(0.0, 25.0), runways=LONG),
        s.airfield("high", s.at(0.0, 19.0), elevation_ft=2500.0, runways=LONG),
        s.airfield("alone", s.at(90.0, 200.0), station="XB", runways=LONG),
        s.airfield("near", s.at(90.0, 215.0), runways=LONG),
        s.airfield("said", s.at(90.0, 400.0), station="XC", runways=LONG),
        s.airfield("far", s.at(90.0, 300.0), runways=LONG),
    ]
    found = coverage(fields, stations, hearing)
    assert [kind_of(k) for k in found.kind] == [
        "own report and own forecast", "borrowed report, own or borrowed forecast", "forecast alone", "nothing",
        "own report alone", "borrowed report alone", "forecast alone", "nothing",
    ]  # fmt: skip
    assert sum(found.counts(found.usable)) == 8
    guided = coverage(fields, stations, hearing, guided={"XB"})
    assert [kind_of(k) for k in guided.kind[4:6]] == [
        "own report and own forecast", "borrowed report, own or borrowed forecast",
    ]  # fmt: skip
    (first, *_) = holes(found)
    assert first.bare >= 1
    assert sum(hole.bare for hole in holes(found)) == 2


@pytest.mark.parametrize(
    ("runway", "good"),
    [
        (LONG[0], True), (replace(LONG[0], length_ft=1999), False), (replace(LONG[0], length_ft=None), False),
        (replace(LONG[0], surface="soft"), False), (replace(LONG[0], closed=True), False),
        (replace(LONG[0], surface="unknown"), False),
    ],
)  # fmt: skip
def test_usable_is_known_to_be_hard_and_long(runway: Runway, good: bool) -> None:
    found = coverage([s.airfield("F", s.HERE, runways=(runway,))], [], {})
    assert bool(found.usable[0]) == good


def test_a_list_of_stations_stands_in_for_what_was_heard() -> None:
    place = s.station("XA", s.HERE)
    assert as_listed([place])["XA"].reports
    assert as_listed([replace(place, reports=False, forecasts=False)]) == {}


def lends(known: Situation, field: Airfield, within_nm: float, kind: str) -> tuple[bool, bool]:
    """Return whether the field's own station gives this kind, and whether that one or any that may lend does."""
    heard = known.hearing
    # Guidance counts like a forecast of its station.
    giving = [
        p
        for p in known.stations.values()
        if getattr(heard[p.id], kind) or (kind == "forecasts" and heard[p.id].guidance)
    ]
    own = [p for p in giving if p.id == field.station_id]
    near = [
        p
        for p in giving
        if s.apart_nm(field.lat_deg, field.lon_deg, p.lat_deg, p.lon_deg) <= within_nm
        and (
            field.elevation_ft is None
            or p.elevation_ft is None
            or abs(field.elevation_ft - p.elevation_ft) <= 1000.0
        )
    ]
    return bool(own), bool(own or near)


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(worlds())
def test_every_field_against_a_plain_loop(world: tuple[Question, Situation]) -> None:
    _, known = world
    found = coverage(known.airfields, tuple(known.stations.values()), known.hearing)
    for i, field in enumerate(known.airfields):
        own_report, report = lends(known, field, 20.0, "reports")
        _, forecast = lends(known, field, 30.0, "forecasts")
        assert (bool(found.own_report[i]), bool(found.report[i])) == (own_report, report)
        assert bool(found.forecast[i]) == forecast
        assert (found.kind[i] == len(KINDS) - 1) == (not report and not forecast)
    assert int(np.sum(found.counts(np.ones(len(known.airfields), dtype=bool)))) == len(known.airfields)
