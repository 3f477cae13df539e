"""Who was ever heard: nothing that is missing takes from it, and any instant can be told later."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import Engine

from refuge.ingest import ingest
from refuge.store.engine import reading
from refuge.store.hearing import Heard, hearing_as_of
from refuge.weather.bulletin import Bulletin, Kind

# Every text here is invented (prefix X).
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
HOUR = timedelta(hours=1)
BARE = "METAR XABC 220250Z AUTO 24010KT 10/05 Q1012"
FULL = "METAR XABC 220350Z AUTO 24010KT 9999 OVC010 10/05 Q1012"


def put(engine: Engine, raw: str, received_at: datetime, kind: Kind = Kind.METAR) -> None:
    bulletin = Bulletin(kind=kind, raw=raw, source="test", received_at=received_at)
    ingest(engine, [bulletin], now=received_at)


def heard(engine: Engine, now: datetime, kind: Kind = Kind.METAR) -> Heard | None:
    with reading(engine) as conn:
        return hearing_as_of(conn, now, station_ids=["XABC"]).get(("XABC", kind))


def test_a_station_without_sensors_is_heard_and_tells_neither_element(engine: Engine) -> None:
    put(engine, BARE, NOW)
    assert heard(engine, NOW) == Heard(
        station="XABC",
        kind=Kind.METAR,
        first_heard=NOW,
        last_heard=NOW,
        hours_utc=frozenset({2}),
        ever_ceiling=False,
        ever_visibility=False,
    )


def test_an_element_once_told_stays_told(engine: Engine) -> None:
    put(engine, FULL, NOW + HOUR)
    put(engine, BARE.replace("220250Z", "220450Z"), NOW + 2 * HOUR)
    now = heard(engine, NOW + 2 * HOUR)
    assert now is not None
    assert (now.ever_ceiling, now.ever_visibility) == (True, True)
    assert (now.first_heard, now.last_heard) == (NOW + HOUR, NOW + 2 * HOUR)
    assert now.hours_utc == {3, 4}


def test_silence_changes_nothing(engine: Engine) -> None:
    put(engine, FULL, NOW + HOUR)
    assert heard(engine, NOW + 1000 * HOUR) == heard(engine, NOW + HOUR)


def test_what_was_known_earlier_can_be_told_later(engine: Engine) -> None:
    put(engine, BARE, NOW)
    before = heard(engine, NOW)
    put(engine, FULL, NOW + HOUR)
    assert heard(engine, NOW) == before
    assert heard(engine, NOW - HOUR) is None


def test_an_older_receipt_that_comes_in_later_moves_first_times_back(engine: Engine) -> None:
    put(engine, FULL, NOW + HOUR)
    put(engine, FULL.replace("220350Z", "220150Z"), NOW - HOUR)
    then = heard(engine, NOW)
    assert then is not None
    assert (then.first_heard, then.last_heard, then.hours_utc) == (NOW - HOUR, NOW - HOUR, frozenset({1}))
    assert then.ever_ceiling


def test_a_missing_report_tells_no_element(engine: Engine) -> None:
    put(engine, "METAR XABC 220250Z NIL", NOW)
    now = heard(engine, NOW)
    assert now is not None
    assert (now.ever_ceiling, now.ever_visibility) == (False, False)


def test_a_forecast_counts_by_its_hour_of_issue_apart_from_reports(engine: Engine) -> None:
    put(engine, "TAF XABC 212330Z 2200/2306 24010KT P6SM OVC040", NOW, Kind.TAF)
    of_forecasts = heard(engine, NOW, Kind.TAF)
    assert of_forecasts is not None
    assert of_forecasts.hours_utc == {23}
    assert heard(engine, NOW) is None
