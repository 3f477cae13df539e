"""Every address on the demo's store: the bytes of the command line, GeoJSON, health."""

import gzip
import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest

FIND = {"at": "44.0,-38.0", "aircraft": "XA-GLASS", "minimums": "XS-SCHOOL"}
TYPED = [
    "find",
    "--at=44.0,-38.0",
    "--aircraft",
    "XA-GLASS",
    "--minimums",
    "XS-SCHOOL",
    "--now",
    "2026-03-10T15:00Z",
]
EXPECT = {"from": "2026-03-10T15:00Z", "to": "2026-03-10T16:00Z"}
GEOJSON = "application/geo+json"


@pytest.mark.parametrize(
    ("more", "options"),
    [
        ({}, []),
        ({"altitude": "6000", "lowest_safe": "2200"}, ["--altitude", "6000", "--lowest-safe", "2200"]),
        ({"shed_min": "15"}, ["--shed-min", "15"]),
        ({"wind": "280/25", "fails": "2026-03-10T15:20Z"}, ["--wind", "280/25", "--fails", "2026-03-10T15:20Z"]),
        ({"failure": "alternator+display", "torch": "true"}, ["--failure", "alternator+display", "--torch"]),
        ({"oat": "-5", "soak": "-10", "fuel_min": "120"}, ["--oat", "-5", "--soak", "-10", "--fuel-min", "120"]),
        ({"margin": "20", "handheld": "true", "limit": "3"}, ["--margin", "20", "--handheld", "--limit", "3"]),
        ({"at": "XCOR", "heading": "270T"}, ["--at", "XCOR", "--heading", "270T"]),
    ],
)
@pytest.mark.parametrize("replay", [False, True], ids=["from memory", "as of then"])
def test_find_is_what_the_command_prints(
    client: httpx.Client, typed: Callable[..., bytes], more: dict[str, str], options: list[str], replay: bool
) -> None:
    asked = FIND | more | ({"now": "2026-03-10T15:00Z"} if replay else {})
    answer = client.get("/v1/find", params=asked)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/json"
    assert answer.content == typed(*TYPED, *options, "--json")


def test_an_earlier_now_is_answered_from_what_was_known_then(
    client: httpx.Client, typed: Callable[..., bytes]
) -> None:
    answer = client.get("/v1/find", params=FIND | {"now": "2026-03-10T14:00Z"})
    assert answer.content == typed(*TYPED[:-1], "2026-03-10T14:00Z", "--json")
    assert answer.json()["data_as_of"] == "2026-03-10T13:40:00Z"  # the winds, as the demo's story has it


@pytest.mark.parametrize("by", ["accept", "format"])
def test_find_as_geojson(client: httpx.Client, typed: Callable[..., bytes], by: str) -> None:
    asked = FIND | ({"format": "geojson"} if by == "format" else {})
    answer = client.get("/v1/find", params=asked, headers={"accept": GEOJSON if by == "accept" else "*/*"})
    assert answer.headers["content-type"] == GEOJSON
    assert answer.content == typed(*TYPED, "--geojson")
    assert_collection(answer.json())


def test_plain_json_where_geojson_is_wanted_less(client: httpx.Client) -> None:
    accept = {"accept": f"{GEOJSON};q=0.5, application/json"}
    assert client.get("/v1/find", params=FIND, headers=accept).headers["content-type"] == "application/json"
    forced = client.get("/v1/find", params=FIND | {"format": "json"}, headers={"accept": GEOJSON})
    assert forced.headers["content-type"] == "application/json"


@pytest.mark.parametrize("replay", [False, True], ids=["from memory", "as of then"])
def test_expect_is_what_the_command_prints(client: httpx.Client, typed: Callable[..., bytes], replay: bool) -> None:
    now = {"now": "2026-03-10T15:00Z"} if replay else {}
    answer = client.get("/v1/expect/xorr", params=EXPECT | now)
    words = ["expect", "XORR", "--from", EXPECT["from"], "--to", EXPECT["to"], "--now", "2026-03-10T15:00Z"]
    assert answer.content == typed(*words, "--json")


def test_status_is_what_the_command_prints(client: httpx.Client, typed: Callable[..., bytes]) -> None:
    assert client.get("/v1/status").content == typed("status", "--now", "2026-03-10T15:00Z", "--json")


def test_a_station_says_instants(client: httpx.Client) -> None:
    """Its report of 14:50 is fresh for 75 minutes (method.md 4)."""
    body = client.get("/v1/stations/XCOR").json()
    assert (body["id"], body["fresh"], body["stale_at"]) == ("XCOR", True, "2026-03-10T16:05:00Z")
    assert body["report"]["raw"] == "METAR XCOR 101450Z 25011KT 9999 SCT035 13/09 Q1015"


def test_a_silent_station_has_no_fresh_report(client: httpx.Client) -> None:
    """XASH reported at noon, and is silent since: the demo's story."""
    body = client.get("/v1/stations/XASH").json()
    assert (body["fresh"], body["heard"]["reports"]) == (False, True)


def test_an_airfield_is_what_the_command_prints(client: httpx.Client, typed: Callable[..., bytes]) -> None:
    assert client.get("/v1/airfields/xcor").content == typed("airfield", "XCOR", "--json")


def test_airfields_near_come_by_distance(client: httpx.Client) -> None:
    body = client.get("/v1/airfields", params={"near": "XCOR", "within_nm": 100, "limit": 3}).json()
    distances = [field["distance_nm"] for field in body["airfields"]]
    assert body["airfields"][0]["id"] == "XCOR"
    assert distances == sorted(distances)
    assert len(distances) == 3
    everything = client.get("/v1/airfields", params={"near": "XCOR", "within_nm": 100}).json()
    assert body["left_out"] == len(everything["airfields"]) - 3
    assert all(field["distance_nm"] <= 100 for field in everything["airfields"])


def test_airfields_in_a_box(client: httpx.Client) -> None:
    """A box around one airfield of the demo (XCOR at 44.664, -36.959), and one on the other side of the world."""
    ids = [f["id"] for f in client.get("/v1/airfields", params={"bbox": "-37,44.6,-36.9,44.7"}).json()["airfields"]]
    assert "XCOR" in ids
    assert client.get("/v1/airfields", params={"bbox": "170,44,-170,45"}).json()["airfields"] == []


@pytest.mark.parametrize("path", ["/v1/airfields?near=XCOR", "/v1/airfields?bbox=-37,44.6,-36.9,44.7"])
def test_airfields_as_geojson(client: httpx.Client, path: str) -> None:
    answer = client.get(path, headers={"accept": GEOJSON})
    assert answer.headers["content-type"] == GEOJSON
    assert_collection(answer.json())


@pytest.mark.parametrize("path", ["/v1/airfields/XCOR", "/v1/stations/XCOR"])
def test_one_place_as_geojson(client: httpx.Client, path: str) -> None:
    assert_feature(client.get(path, params={"format": "geojson"}).json())


def assert_collection(body: dict[str, Any]) -> None:
    """RFC 7946, 3.3 and 7.1: a type and features, and nothing that a geometry or a feature has."""
    assert body["type"] == "FeatureCollection"
    assert body["features"]
    assert not {"coordinates", "geometries", "geometry", "properties"} & set(body)
    for feature in body["features"]:
        assert_feature(feature)


def assert_feature(feature: dict[str, Any]) -> None:
    """RFC 7946, 3.2, 3.1.1 and 4: longitude first, degrees on WGS84."""
    assert feature["type"] == "Feature"
    assert isinstance(feature["id"], str)
    assert isinstance(feature["properties"], dict)
    assert feature["geometry"]["type"] == "Point"
    lon, lat = feature["geometry"]["coordinates"]
    assert -180 <= lon <= 180
    assert -90 <= lat <= 90
    place = feature["properties"].get("airfield", feature["properties"])
    assert (lon, lat) == (place["lon"], place["lat"])


def test_aircraft_and_minimums_by_id(client: httpx.Client) -> None:
    """Those of the demo, for its store; no path of this machine."""
    aircraft, minimums = client.get("/v1/aircraft"), client.get("/v1/minimums")
    assert {row["id"] for row in aircraft.json()["aircraft"]} >= {"XA-GLASS", "XA-GYRO"}
    assert [row["day"] for row in minimums.json()["minimums"] if row["id"] == "XS-SCHOOL"] == [
        {"ceiling_ft": 2500, "visibility_sm": 5}
    ]
    assert "/" not in aircraft.text.replace("application/json", "")


def test_gzip_holds_the_same(client: httpx.Client) -> None:
    with client.stream("GET", "/v1/find", params=FIND, headers={"accept-encoding": "gzip"}) as packed:
        raw = b"".join(packed.iter_raw())
        assert packed.headers["content-encoding"] == "gzip"
        assert int(packed.headers["content-length"]) == len(raw)
    plain = client.get("/v1/find", params=FIND, headers={"accept-encoding": "gzip;q=0"})
    assert "content-encoding" not in plain.headers
    assert gzip.decompress(raw) == plain.content
    assert len(raw) < len(plain.content) / 3


def test_head_is_get_without_a_body(client: httpx.Client) -> None:
    head, get = client.head("/v1/find", params=FIND), client.get("/v1/find", params=FIND)
    assert (head.status_code, head.content) == (200, b"")
    assert {name: head.headers[name] for name in ("etag", "content-type")} == {
        name: get.headers[name] for name in ("etag", "content-type")
    }


def test_health(client: httpx.Client) -> None:
    """The demo's last bulletin came at 14:55: young at 15:00."""
    assert client.get("/livez").status_code == 200
    assert client.get("/readyz").json() == {
        "ready": True, "read_at": "2026-03-10T15:00:00Z", "data_as_of": "2026-03-10T14:55:00Z",
    }  # fmt: skip


def test_metrics_count_what_was_asked(client: httpx.Client) -> None:
    client.get("/v1/aircraft")
    client.get("/v1/aircraft")
    text = client.get("/metrics").text
    assert 'refuge_http_requests_total{route="kept",status="200"}' in text
    assert "refuge_data_timestamp_seconds 1.7731545e+09" in text  # 2026-03-10T14:55Z, by date -d
    assert json.dumps("/v1/aircraft") in text
