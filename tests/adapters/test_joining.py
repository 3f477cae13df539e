"""Newly collected stations find their airfields, by old codes too."""

import json
from datetime import UTC, datetime, timedelta

from pytest_httpserver import HTTPServer
from sqlalchemy import Engine

from refuge.airfield import Airfield
from refuge.feeds.awc import AwcFeed
from refuge.ingest import collect_stations
from refuge.store.engine import reading
from refuge.store.places import airfield, airfields_by_code, replace_airfields

# Every place here is invented (prefix X).
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)


def listed(name: str) -> dict[str, object]:
    where = {"lat": 1.0, "lon": 2.0, "elev": 100, "country": "XX", "site": "Somewhere"}
    return where | {"icaoId": name, "siteType": ["METAR"], "faaId": None, "id": name}


def collect(engine: Engine, server: HTTPServer, *names: str, at: datetime = NOW) -> None:
    server.clear()
    answer = json.dumps([listed(name) for name in names])
    server.expect_request("/data/cache/stations.cache.json.gz").respond_with_data(answer)
    collect_stations(engine, AwcFeed(received_at=at, base_url=server.url_for("")), now=at)


def test_a_station_that_is_collected_is_joined_by_any_code_of_its_airfield(
    engine: Engine, httpserver: HTTPServer
) -> None:
    field = Airfield(
        id="XF01", name="X", lat_deg=1.01, lon_deg=2.0, elevation_ft=330.0, country="XX", source="invented"
    )
    other = Airfield(
        id="XF02", name="Y", lat_deg=9.0, lon_deg=9.0, elevation_ft=0.0, country="XX", source="invented"
    )
    codes = {"XF01": ("XF01", "XNEW", "XOLD"), "XF02": ("XF02", "XNEW")}
    replace_airfields(engine, [field, other], source="invented", imported_at=NOW, codes=codes)

    def at_the_field() -> str | None:
        with reading(engine) as conn:
            found = airfield(conn, "XF01")
            # the codes outlive every join; XNEW is trusted by both alike
            assert airfields_by_code(conn, "XOLD") == ("XF01",)
            assert airfields_by_code(conn, "XNEW") == ("XF01", "XF02")
        assert found is not None
        return found.station_id

    assert at_the_field() is None
    collect(engine, httpserver, "XOLD")
    assert at_the_field() == "XOLD"
    collect(engine, httpserver, "XOLD", "XNEW", at=NOW + timedelta(days=1))
    assert at_the_field() == "XNEW"  # the code that is trusted more (gazetteer/join.py)
    collect(engine, httpserver, "XFAR", at=NOW + timedelta(days=2))
    assert at_the_field() is None
