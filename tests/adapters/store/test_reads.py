"""What was known at an instant: newest reports, corrections, forecasts in force, winds, unread texts."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import Engine, select

from refuge.ingest import IngestCounts, ingest
from refuge.store.engine import reading
from refuge.store.reads import (
    forecasts_as_of,
    latest_observations,
    newest_receipt,
    recent_observations,
    refused_reports,
    winds_as_of,
)
from refuge.store.schema import bulletins
from refuge.weather.bulletin import Bulletin, Kind

# Every text here is invented (prefix X); the rules have their sources beside them.
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
MINUTE = timedelta(minutes=1)

FIRST = "METAR XABC 220200Z 24010KT 10SM OVC040 10/05 A2992"
SECOND = "METAR XABC 220250Z 24010KT 2SM BR OVC004 10/09 A2992"
WINDS = """000
FBUS31 KWNO 220159
FD1US1
DATA BASED ON 220000Z
VALID 220600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000

FT  3000    6000    9000   12000   18000   24000  30000  34000  39000
ABI      2544+15 2542+07 2531-01 2657-15 2482-23 248940 750350 762059
"""


def put(engine: Engine, raw: str, *, received_at: datetime = NOW, kind: Kind | None = None) -> IngestCounts:
    kind = kind or (Kind.TAF if raw.startswith("TAF") else Kind.METAR)
    bulletin = Bulletin(kind=kind, raw=raw, source="test", received_at=received_at)
    return ingest(engine, [bulletin], now=received_at)


def latest(engine: Engine, now: datetime = NOW) -> str | None:
    with reading(engine) as conn:
        report = latest_observations(conn, now, station_ids=["XABC"]).get("XABC")
    return report.raw if report else None


def forecasts(engine: Engine, now: datetime) -> list[str]:
    with reading(engine) as conn:
        return [forecast.raw for forecast in forecasts_as_of(conn, now).get("XABC", ())]


def test_the_newest_by_time_of_observation_counts_whatever_came_last(engine: Engine) -> None:
    put(engine, SECOND)
    put(engine, FIRST)
    assert latest(engine) == SECOND


def test_a_report_received_later_is_not_used(engine: Engine) -> None:
    put(engine, FIRST, received_at=NOW - 50 * MINUTE)
    put(engine, SECOND, received_at=NOW + MINUTE)
    assert latest(engine) == FIRST
    assert latest(engine, NOW + MINUTE) == SECOND
    assert latest(engine, NOW - 51 * MINUTE) is None


def test_what_is_read_is_what_was_decoded(engine: Engine) -> None:
    put(engine, SECOND)
    with reading(engine) as conn:
        (report,) = latest_observations(conn, NOW).values()
    assert (report.station, report.observed_at) == ("XABC", datetime(2022, 10, 22, 2, 50, tzinfo=UTC))
    assert report.observed_at.tzinfo is not None


def test_a_correction_supersedes_its_original_from_its_receipt_on(engine: Engine) -> None:
    correction = "METAR COR XABC 220250Z 24010KT 10SM OVC040 10/09 A2992"
    put(engine, SECOND, received_at=NOW - 8 * MINUTE)
    put(engine, correction)
    assert latest(engine) == correction
    assert latest(engine, NOW - MINUTE) == SECOND


def test_an_original_received_after_its_correction_does_not_bring_itself_back(engine: Engine) -> None:
    correction = "METAR COR XABC 220250Z 24010KT 1/2SM FG VV002 10/09 A2992"
    put(engine, correction, received_at=NOW - 8 * MINUTE)
    put(engine, SECOND)
    assert latest(engine) == correction


def test_the_second_correction_supersedes_the_first_in_any_order(engine: Engine) -> None:
    # CCA, CCB: Canadian MANOBS, correction x (decoding.md, M18)
    first = "METAR XABC 220250Z CCA 24010KT 10SM OVC040 10/09 A2992"
    second = "METAR XABC 220250Z CCB 24010KT 2SM BR OVC004 10/09 A2992"
    put(engine, second, received_at=NOW - 2 * MINUTE)
    put(engine, first)
    assert latest(engine) == second


def test_a_report_stamped_ahead_of_now_is_not_the_newest(engine: Engine) -> None:
    # A slip of the hour; else it would look fresh until five o'clock.
    put(engine, SECOND)
    put(engine, "METAR XABC 220500Z 24010KT 10SM CLR 10/05 A2992")
    assert latest(engine) == SECOND


def test_a_missing_report_counts_as_the_newest(engine: Engine) -> None:
    put(engine, FIRST)
    put(engine, "METAR XABC 220250Z NIL")
    with reading(engine) as conn:
        assert latest_observations(conn, NOW)["XABC"].nil


def test_only_the_stations_asked_for(engine: Engine) -> None:
    put(engine, FIRST)
    put(engine, FIRST.replace("XABC", "XDEF"))
    with reading(engine) as conn:
        assert set(latest_observations(conn, NOW)) == {"XABC", "XDEF"}
        assert set(latest_observations(conn, NOW, station_ids=["XDEF", "XNON"])) == {"XDEF"}
        assert latest_observations(conn, NOW, station_ids=[]) == {}


def test_recent_reports_are_one_for_each_time_oldest_first(engine: Engine) -> None:
    correction = SECOND.replace("METAR", "METAR COR")
    for raw in (SECOND, FIRST, correction, FIRST.replace("220200Z", "220100Z")):
        put(engine, raw)
    with reading(engine) as conn:
        reports = recent_observations(conn, NOW, since=NOW - 60 * MINUTE)["XABC"]
    assert [report.raw for report in reports] == [FIRST, correction]


OLD = "TAF XABC 212330Z 2200/2306 24010KT P6SM OVC040"
NEW = "TAF XABC 220520Z 2206/2312 24010KT P6SM OVC020"


def test_before_the_newest_forecast_begins_its_predecessor_is_there_too(engine: Engine) -> None:
    put(engine, OLD, received_at=NOW)
    put(engine, NEW, received_at=NOW + 150 * MINUTE)
    assert forecasts(engine, NOW) == [OLD]
    assert forecasts(engine, NOW + 150 * MINUTE) == [NEW, OLD]
    assert forecasts(engine, NOW + 180 * MINUTE) == [NEW]  # 06Z: the newer one has begun


def test_an_amendment_in_force_supersedes_for_good(engine: Engine) -> None:
    amended = "TAF AMD XABC 220230Z 2202/2306 24010KT 1SM BR OVC004"
    put(engine, amended)
    put(engine, OLD)
    assert forecasts(engine, NOW) == [amended]


def test_a_corrected_forecast_supersedes_the_one_of_its_time(engine: Engine) -> None:
    corrected = OLD.replace("TAF", "TAF COR").replace("040", "010")
    put(engine, corrected)
    put(engine, OLD)
    assert forecasts(engine, NOW) == [corrected]


def test_a_cancelled_forecast_is_handed_over_and_brings_no_older_one_back(engine: Engine) -> None:
    # NIL, CNL and outside the validity there is no forecast (decoding.md)
    cancelled = "TAF AMD XABC 220230Z 2202/2306 CNL"
    put(engine, OLD)
    put(engine, cancelled)
    with reading(engine) as conn:
        newest = forecasts_as_of(conn, NOW)["XABC"]
    assert [forecast.raw for forecast in newest] == [cancelled]
    assert newest[0].cancelled


def test_a_forecast_of_last_month_is_none(engine: Engine) -> None:
    put(engine, OLD, received_at=NOW - timedelta(days=30))
    assert forecasts(engine, NOW) == []


def test_winds_in_use_now_or_later(engine: Engine) -> None:
    put(engine, WINDS, kind=Kind.WINDS)
    with reading(engine) as conn:
        (found,) = winds_as_of(conn, NOW)
        assert winds_as_of(conn, NOW - MINUTE) == ()  # not yet received
        assert winds_as_of(conn, datetime(2022, 10, 22, 9, tzinfo=UTC)) == ()  # FOR USE 0200-0900Z
    assert (found.product, found.sites[0].site) == ("FD1US1", "ABI")
    # 2544+15 under 6000: 250 degrees, 44 kt, +15 C (AIM 7-1, the FD code)
    level = found.sites[0].levels[0]
    assert (level.altitude_ft, level.dir_deg_true, level.speed_kt, level.temperature_c) == (6000, 250, 44, 15)


def test_a_text_that_cannot_be_read_is_kept_with_its_reason(engine: Engine) -> None:
    assert put(engine, "METAR XABC") == IngestCounts(refused=1)
    with reading(engine) as conn:
        row = conn.execute(select(bulletins)).one()
        assert (row.raw, row.received_at) == ("METAR XABC", NOW)
        (text,) = refused_reports(conn, NOW, since=NOW, station_ids=["XABC"]).get("XABC", (None,))
        assert refused_reports(conn, NOW - MINUTE, since=NOW - 9 * MINUTE, station_ids=["XABC"]) == {}
    assert text is not None
    assert (text.report.raw, text.received_at) == ("METAR XABC", NOW)
    assert text.report.error


def test_the_age_of_the_data(engine: Engine) -> None:
    with reading(engine) as conn:
        assert newest_receipt(conn, NOW) is None
    put(engine, FIRST, received_at=NOW - 9 * MINUTE)
    put(engine, SECOND, received_at=NOW)
    with reading(engine) as conn:
        assert newest_receipt(conn, NOW - MINUTE) == NOW - 9 * MINUTE
        assert newest_receipt(conn, NOW) == NOW


def test_an_empty_store_answers_with_nothing(engine: Engine) -> None:
    with reading(engine) as conn:
        assert latest_observations(conn, NOW) == {}
        assert forecasts_as_of(conn, NOW) == {}
        assert winds_as_of(conn, NOW) == ()
