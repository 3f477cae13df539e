"""Guidance in the store: the newest of each product as of an instant, and what hides it."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine

from refuge.airfield import Airfield, Station
from refuge.ingest import ingest, redecode
from refuge.store.engine import reading
from refuge.store.guidance import StationGuidance, guidance_as_of, wanted_stations
from refuge.store.places import replace_airfields, replace_stations
from refuge.store.reads import newest_receipt, refused_reports, stations_refused
from refuge.weather.bulletin import Bulletin, Kind
from refuge.weather.guidance import Guidance, decode_guidance
from refuge.weather.reports import Unreadable
from tests.core.weather.guidance_blocks import MADE, blend, lamp

HOUR = timedelta(hours=1)
GOOD = {"CIG": ["60"] * 3, "VIS": ["100"] * 3}
LAMP = {"CIG": ["8"] * 3, "VIS": ["7"] * 3}


def put(engine: Engine, raw: str, at: datetime) -> None:
    bulletin = Bulletin(kind=Kind.GUIDANCE, raw=raw, source="test", received_at=at)
    ingest(engine, [bulletin], now=at)


def known(engine: Engine, now: datetime, *ids: str) -> dict[str, StationGuidance]:
    with reading(engine) as conn:
        return guidance_as_of(conn, now, ids or None)


def test_the_newest_of_each_product_as_of_then(engine: Engine) -> None:
    put(engine, blend(GOOD), MADE + HOUR)
    put(engine, blend(GOOD, product="NBS", first=5), MADE + HOUR)
    put(engine, blend(GOOD, made=MADE + HOUR), MADE + 2 * HOUR)
    put(engine, lamp(LAMP), MADE + HOUR)
    assert known(engine, MADE) == {}
    first = known(engine, MADE + HOUR)
    assert sorted(first) == ["XAAA", "XCCC"]
    assert [(b.product, b.based_on) for b in first["XAAA"].blocks] == [("NBH", MADE), ("NBS", MADE)]
    later = known(engine, MADE + 2 * HOUR, "XAAA", "XZZZ")
    assert sorted(later) == ["XAAA"]
    assert [(b.product, b.based_on) for b in later["XAAA"].blocks] == [("NBH", MADE + HOUR), ("NBS", MADE)]
    assert later["XAAA"].blocks[0].raw == blend(GOOD, made=MADE + HOUR)
    assert later["XAAA"].blocks[0].rows["CIG"] == " 60 60 60"


def test_of_one_run_the_last_received(engine: Engine) -> None:
    put(engine, blend(GOOD), MADE + HOUR)
    put(engine, blend(GOOD | {"CIG": ["5"] * 3}), MADE + 1.5 * HOUR)
    put(engine, blend(GOOD), MADE + 2 * HOUR)  # the first again: known, and not newer for it
    (block,) = known(engine, MADE + 3 * HOUR)["XAAA"].blocks
    assert block.rows["CIG"] == "  5  5  5"


def test_what_is_old_does_not_count(engine: Engine) -> None:
    put(engine, blend(GOOD), MADE + HOUR)
    assert known(engine, MADE + 6 * HOUR)
    assert known(engine, MADE + 6.1 * HOUR) == {}


def test_a_newer_block_that_cannot_be_read_hides_the_older(engine: Engine) -> None:
    put(engine, blend(GOOD), MADE + HOUR)
    put(engine, lamp(LAMP).replace("XCCC", "XAAA"), MADE + HOUR)
    put(engine, blend(GOOD, made=MADE + HOUR).replace(" UTC  00", " UTC  0#"), MADE + 2 * HOUR)
    assert [b.product for b in known(engine, MADE + HOUR)["XAAA"].blocks] == ["LAV", "NBH"]
    hidden = known(engine, MADE + 2 * HOUR)["XAAA"]
    assert [b.product for b in hidden.blocks] == ["LAV"]
    assert len(hidden.unreadable) == 1
    put(engine, blend(GOOD, made=MADE + 2 * HOUR), MADE + 3 * HOUR)
    again = known(engine, MADE + 3 * HOUR)["XAAA"]
    assert ([b.product for b in again.blocks], again.unreadable) == (["LAV", "NBH"], ())


def test_a_block_of_no_known_product_hides_all_of_its_station(engine: Engine) -> None:
    put(engine, blend(GOOD), MADE + HOUR)
    put(engine, blend(GOOD).replace("GUIDANCE", "#"), MADE + 2 * HOUR)
    put(engine, blend(GOOD).replace("NBH", "NBE"), MADE + 2 * HOUR)
    found = known(engine, MADE + 2 * HOUR, "XAAA")["XAAA"]
    assert (found.blocks, len(found.unreadable)) == ((), 1)


def test_guidance_hides_no_report_and_freshens_none(engine: Engine) -> None:
    put(engine, blend(GOOD).replace("GUIDANCE", "#"), MADE + HOUR)
    put(engine, blend(GOOD), MADE + HOUR)
    with reading(engine) as conn:
        assert refused_reports(conn, MADE + HOUR, since=MADE, station_ids=["XAAA"]) == {}
        assert stations_refused(conn, since=MADE, until=MADE + HOUR) == set()
        assert newest_receipt(conn, MADE + HOUR) is None


def test_decoding_anew_changes_nothing(engine: Engine) -> None:
    put(engine, blend(GOOD), MADE + HOUR)
    before = known(engine, MADE + HOUR)
    counts = redecode(engine)
    assert (counts.decoded, counts.changed, counts.refused) == (1, 0, 0)
    assert known(engine, MADE + HOUR) == before


def test_a_block_that_the_decoder_no_longer_reads_is_unreadable_at_once(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Elements are read when asked for: a stricter decoder's refusal hides the block, no older one stands in."""
    put(engine, blend(GOOD), MADE + HOUR)
    put(engine, blend(GOOD, made=MADE + HOUR), MADE + 2 * HOUR)
    put(engine, lamp(LAMP).replace("XCCC", "XAAA"), MADE + HOUR)

    def stricter(raw: str, *, received_at: datetime) -> Guidance | Unreadable:
        if "NBH" in raw and "2300 UTC" in raw:
            return Unreadable(raw=raw, kind=None, station="XAAA", error="no longer read")
        return decode_guidance(raw, received_at=received_at)

    monkeypatch.setattr("refuge.store.guidance.decode_guidance", stricter)
    found = known(engine, MADE + 2 * HOUR)["XAAA"]
    assert ([b.product for b in found.blocks], found.unreadable) == (["LAV"], ("no longer read",))


def test_the_stations_that_are_wanted(engine: Engine) -> None:
    now = datetime(2028, 2, 28, tzinfo=UTC)
    station = Station(
        id="KAAA", name="", lat_deg=0.0, lon_deg=0.0, elevation_ft=0.0, country="US", reports=True, forecasts=False
    )
    field = Airfield(
        id="00F", name="", lat_deg=0.0, lon_deg=0.0, elevation_ft=0.0, country="US", runways=None, source="test"
    )
    replace_stations(engine, [station], source="test", imported_at=now)
    replace_airfields(engine, [field], source="test", imported_at=now, codes={"00F": ["K00F", "MT99"]})
    with reading(engine) as conn:
        assert wanted_stations(conn) == {"KAAA", "00F", "K00F", "MT99"}
