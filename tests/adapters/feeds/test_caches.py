"""The service's cache files: CSV and XML, whole, odd and damaged."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from refuge.errors import FeedError
from refuge.feeds.caches import reports_from_csv, reports_from_xml
from refuge.feeds.feed import Fetched
from refuge.weather.bulletin import Kind

# The columns and the two rows are NOAA's, as served on 2026-03-20 (feeds/metars.cache.2026-03-20.rows.csv).
HEADER = (
    "raw_text,station_id,observation_time,latitude,longitude,temp_c,dewpoint_c,wind_dir_degrees,wind_speed_kt,"
    "wind_gust_kt,visibility_statute_mi,altim_in_hg,sea_level_pressure_mb,corrected,auto,auto_station,"
    "maintenance_indicator_on,no_signal,lightning_sensor_off,freezing_rain_sensor_off,present_weather_sensor_off,"
    "wx_string,sky_cover,cloud_base_ft_agl,sky_cover,cloud_base_ft_agl,sky_cover,cloud_base_ft_agl,sky_cover,"
    "cloud_base_ft_agl,flight_category,three_hr_pressure_tendency_mb,maxT_c,minT_c,maxT24hr_c,minT24hr_c,"
    "precip_in,pcp3hr_in,pcp6hr_in,pcp24hr_in,snow_in,vert_vis_ft,metar_type,elevation_m"
)
KDTA = "METAR KDTA 201520Z AUTO 07010KT 10SM CLR 13/M06 A3031 RMK AO1"
ROW_KDTA = (
    f'"{KDTA}",KDTA,2026-03-20T15:20:00.000Z,39.3879,-112.5041,13,-6,70,10,,10+,30.31,,,TRUE,TRUE,,,,,,'
    ",,,,,,,,,VFR,,,,,,,,,,,,METAR,1452"
)
SKEJ = "SPECI SKEJ 201520Z 23004KT 200V270 9999 FEW005 BKN015 26/24 Q1013"
ROW_SKEJ = (
    f'"{SKEJ}",SKEJ,2026-03-20T15:20:00.000Z,7.0260,-73.8090,26,24,230,4,,6+,29.91,,,,,,,,,,'
    ",FEW,500,BKN,1500,,,,,MVFR,,,,,,,,,,,,SPECI,123"
)
NOW = datetime(2026, 3, 20, 15, 30, tzinfo=UTC)


def csv_of(*rows: str, received_at: datetime = NOW) -> Fetched:
    return reports_from_csv("\n".join(rows) + "\n", kind=Kind.METAR, source="x", received_at=received_at)


def raws(fetched: Fetched) -> list[str]:
    return [bulletin.raw for bulletin in fetched.bulletins]


def test_the_raw_text_of_every_row() -> None:
    fetched = csv_of(HEADER, ROW_KDTA, ROW_SKEJ)
    assert raws(fetched) == [KDTA, SKEJ]
    assert fetched.unusable == ()
    first = fetched.bulletins[0]
    assert (first.kind, first.source, first.received_at) == (Kind.METAR, "x", NOW)


def test_lines_before_the_header_are_passed_over() -> None:
    # the cache of before 2025 (from memory)
    old = ("No errors", "No warnings", "3 ms", "data source=metars", "2 results")
    assert raws(csv_of(*old, HEADER, ROW_KDTA)) == [KDTA]


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        (ROW_KDTA[: len(ROW_KDTA) // 2], "columns"),
        ('"METAR KXXX 201520Z AUTO 07010KT 10SM', "columns"),  # a quote that is never closed
        (ROW_KDTA.replace(",KDTA,", ",KXXX,"), "the row is of KXXX"),
        (ROW_KDTA.replace(KDTA, ""), "no raw text"),
        (ROW_KDTA.replace("2026-03-20T15:20", "2026-13-20T15:20"), "the row's time"),
    ],
)
def test_a_bad_row_costs_its_neighbours_nothing_and_is_kept(bad: str, why: str) -> None:
    fetched = csv_of(HEADER, ROW_SKEJ, bad, ROW_SKEJ)
    assert raws(fetched) == [SKEJ, SKEJ]
    (kept,) = fetched.unusable
    assert kept.bulletin.raw == bad
    assert why in kept.error


def test_a_file_of_another_month_is_not_read_as_of_this_one() -> None:
    # 20th, 15:20: a month later the text alone reads as fresh
    fetched = csv_of(HEADER, ROW_KDTA, received_at=datetime(2026, 4, 20, 15, 30, tzinfo=UTC))
    assert fetched.bulletins == ()
    assert "2026-03-20T15:20:00Z" in fetched.unusable[0].error


def test_what_is_no_cache_is_refused() -> None:
    with pytest.raises(FeedError, match="no line begins with raw_text,station_id,"):
        csv_of("<html>", "Sorry, out of order", "</html>")


# Shape: feeds/tafs.cache.2026-09-16.excerpt.xml; its second report.
EGLL = "TAF AMD EGLL 160930Z 1609/1712 24008KT 9999 SCT035"
TAF_EGLL = (
    f"<TAF><raw_text><![CDATA[{EGLL}]]></raw_text><station_id>EGLL</station_id>"
    "<issue_time>2026-09-16T09:30:00.000Z</issue_time><remarks>AMD</remarks>"
    '<forecast><raw_text>not this one</raw_text><sky_condition sky_cover="SCT" cloud_base_ft_agl="3500"/>'
    "</forecast></TAF>"
)
XML_NOW = datetime(2026, 9, 16, 10, tzinfo=UTC)


def xml_of(
    inside: str, *, head: str = '<?xml version="1.0" encoding="UTF-8"?>', tail: str = "</data></response>"
) -> Fetched:
    document = f'{head}<response version="2.0"><data_source name="taf"/><data num_results="2">{inside}{tail}'
    return reports_from_xml(document.encode(), kind=Kind.TAF, source="x", received_at=XML_NOW)


def test_the_raw_text_of_every_element_and_of_no_element_inside_it() -> None:
    fetched = xml_of(TAF_EGLL + TAF_EGLL.replace("EGLL", "EGKK"))
    assert raws(fetched) == [EGLL, EGLL.replace("EGLL", "EGKK")]
    assert fetched.bulletins[0].kind is Kind.TAF


def test_entities_of_xml_itself_are_read() -> None:
    inside = TAF_EGLL.replace(f"<![CDATA[{EGLL}]]>", EGLL + " RMK A&amp;B")
    assert raws(xml_of(inside)) == [EGLL + " RMK A&B"]


def test_a_long_document_comes_in_pieces() -> None:
    stations = [f"X{n:03d}" for n in range(999)]
    fetched = xml_of("".join(TAF_EGLL.replace("EGLL", name) for name in stations))
    assert raws(fetched) == [EGLL.replace("EGLL", name) for name in stations]


@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE r [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>',
        '<!DOCTYPE r [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE r SYSTEM "http://example.org/r.dtd">',
    ],
)
def test_a_document_type_is_refused(doctype: str) -> None:
    with pytest.raises(FeedError, match="document type"):
        xml_of(TAF_EGLL, head=doctype)


def test_what_came_before_the_damage_is_kept() -> None:
    fetched = xml_of(TAF_EGLL + "<TAF><raw_text>TAF EGKK & more", tail="")
    assert raws(fetched) == [EGLL]
    (kept,) = fetched.unusable
    assert "damaged XML" in kept.error


def test_an_element_without_text_costs_its_neighbours_nothing() -> None:
    fetched = xml_of("<TAF><station_id>EGKK</station_id></TAF>" + TAF_EGLL)
    assert raws(fetched) == [EGLL]
    assert fetched.unusable[0].error == "no raw text"


def test_what_is_no_xml_is_refused() -> None:
    with pytest.raises(FeedError, match="no XML"):
        reports_from_xml(b"Sorry, out of order", kind=Kind.TAF, source="x", received_at=XML_NOW)


def test_the_real_world_cycle(shared_data: Path) -> None:
    text = (shared_data / "cycle" / "metars.cache.2022-10.csv").read_text()
    now = datetime(2022, 10, 22, 3, tzinfo=UTC)
    fetched = reports_from_csv(text, kind=Kind.METAR, source="x", received_at=now)
    assert len(fetched.bulletins) == 4685  # data/README.md: 4,685 stations
    assert fetched.unusable == ()
    late = reports_from_csv(text, kind=Kind.METAR, source="x", received_at=now + timedelta(days=31))
    # all but the one text without any time, which no decoder can use
    assert [bulletin.raw.split()[0] for bulletin in late.bulletins] == ["UTO8"]


@pytest.mark.parametrize(
    ("name", "now", "stations"),
    [
        ("tafs.cache.2026-09-16.excerpt.xml", XML_NOW, ["MHTG", "EGLL"]),
        ("taf_adds_xml_2022-08-26.xml", datetime(2022, 8, 26, 15, tzinfo=UTC), ["CYOW"]),
    ],
)
def test_the_recorded_forecasts(shared_data: Path, name: str, now: datetime, stations: list[str]) -> None:
    content = (shared_data / "feeds" / name).read_bytes()
    fetched = reports_from_xml(content, kind=Kind.TAF, source="x", received_at=now)
    assert [next(w for w in raw.split() if w in stations) for raw in raws(fetched)] == stations
    assert fetched.unusable == ()


def test_the_recorded_rows(shared_data: Path) -> None:
    text = (shared_data / "feeds" / "metars.cache.2026-03-20.rows.csv").read_text()
    fetched = reports_from_csv(text, kind=Kind.METAR, source="x", received_at=NOW)
    assert len(fetched.bulletins) + 1 == len(text.splitlines())
    assert fetched.unusable == ()
