"""Files and folders of bulletins: what each holds is told by its content."""

import gzip
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from refuge.errors import InputError
from refuge.feeds.folder import file_feed
from refuge.weather.bulletin import Kind

# Invented (prefix X), in the shapes that the services send.
NOW = datetime(2022, 10, 22, 3, tzinfo=UTC)
METAR = "METAR XABC 220250Z 24010KT 10SM OVC040 10/05 A2992"
SPECI = "SPECI XDEF 220255Z 24010KT 2SM BR OVC004 10/09 A2992"
TAF = "TAF XABC 220520Z 2206/2312 24010KT P6SM OVC020"
XML = (
    '<?xml version="1.0"?><response><data_source name="taf"/><data>'
    f"<TAF><raw_text>{TAF}</raw_text></TAF></data></response>"
)
CSV = f"raw_text,station_id,observation_time\n{METAR},XABC,2022-10-22T02:50:00Z\n"
WINDS = """000
FBUS31 KWNO 220159
FD1US1
DATA BASED ON 220000Z
VALID 220600Z   FOR USE 0200-0900Z. TEMPS NEG ABV 24000

FT  3000    6000
ABI      2544+15
"""


def found(path: Path, kind: Kind) -> list[str]:
    return [b.raw for b in file_feed(path, now=NOW, received_at=NOW).fetch(kind, {}).bulletins]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "a.txt").write_text(f"{METAR}=\n{SPECI}\n\n{TAF}\n     FM220900 24010KT P6SM SKC=\n")
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "b.xml.gz").write_bytes(gzip.compress(XML.encode()))
    (tmp_path / "sub" / "c.csv").write_text(CSV)
    (tmp_path / "d.winds").write_text(WINDS)
    (tmp_path / ".hidden").write_text(METAR)
    return tmp_path


def test_every_sort_of_file_in_one_folder(folder: Path) -> None:
    assert found(folder, Kind.METAR) == [METAR, SPECI, METAR]
    forecasts = found(folder, Kind.TAF)
    assert [" ".join(raw.split()) for raw in forecasts] == [f"{TAF} FM220900 24010KT P6SM SKC", TAF]
    assert found(folder, Kind.WINDS) == [WINDS]


def test_one_file(folder: Path) -> None:
    assert found(folder / "sub" / "c.csv", Kind.METAR) == [METAR]
    assert found(folder / "sub" / "c.csv", Kind.TAF) == []


def test_winds_and_reports_in_one_file_lose_nothing(tmp_path: Path) -> None:
    (tmp_path / "a").write_text(f"{METAR}=\n{WINDS}\n{TAF}=\n{WINDS.replace('FD1US1', 'FD3US3')}\n{SPECI}=\n")
    assert found(tmp_path, Kind.METAR) == [METAR, SPECI]
    assert found(tmp_path, Kind.TAF) == [TAF]
    products = [raw.split("\n")[2] for raw in found(tmp_path, Kind.WINDS)]
    assert products == ["FD1US1", "FD3US3"]
    assert all("XABC" not in raw and "XDEF" not in raw for raw in found(tmp_path, Kind.WINDS))


def test_the_receipt_is_the_files_time_and_now_at_the_latest(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text(METAR)
    for written, receipt in ((NOW - timedelta(days=3), NOW - timedelta(days=3)), (NOW + timedelta(days=3), NOW)):
        os.utime(path, (written.timestamp(), written.timestamp()))
        (bulletin,) = file_feed(path, now=NOW).fetch(Kind.METAR, {}).bulletins
        assert bulletin.received_at == receipt
        assert bulletin.source == str(path)


def test_a_file_that_cannot_be_used_spoils_no_other(folder: Path) -> None:
    (folder / "e.gz").write_bytes(b"\x1f\x8bnonsense")
    (folder / "f.png").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00")
    feed = file_feed(folder, now=NOW, received_at=NOW)
    assert [Path(str(error.where)).name for error in feed.everything.errors] == ["e.gz", "f.png"]
    assert len(feed.everything.bulletins) == 6


def test_a_single_file_that_cannot_be_used_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "f.png").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00")
    with pytest.raises(InputError, match="binary"):
        file_feed(tmp_path / "f.png", now=NOW)


@pytest.mark.parametrize(
    "junk", ["", "flight,from,to\nA1,XTES,XLUM\n", "<html><body>no</body></html>", CSV.splitlines()[0]]
)
def test_a_file_without_one_report_is_refused(tmp_path: Path, junk: str) -> None:
    (tmp_path / "a").write_text(junk)
    with pytest.raises(InputError, match="no report found"):
        file_feed(tmp_path / "a", now=NOW)


@pytest.mark.parametrize(
    "one", ["METAR XABC", "XABC 220250Z nothing of sense", CSV.replace("XABC,2022", "XDEF,2022")]
)
def test_what_may_have_been_a_report_is_kept(tmp_path: Path, one: str) -> None:
    """It hides what is older of its station, so that nobody takes that for the latest."""
    (tmp_path / "a").write_text(one)
    everything = file_feed(tmp_path / "a", now=NOW, received_at=NOW).everything
    assert len(everything.bulletins) + len(everything.unusable) == 1


@pytest.mark.parametrize("name", ["", "missing"])
def test_nothing_there_is_an_error(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="no "):
        file_feed(tmp_path / name, now=NOW)


def test_the_recorded_winds(shared_data: Path) -> None:
    feed = file_feed(shared_data / "winds" / "FD1US1_pyiem.txt", now=NOW)
    (bulletin,) = feed.fetch(Kind.WINDS, {}).bulletins
    assert "FD1US1" in bulletin.raw
    assert not feed.fetch(Kind.METAR, {}).bulletins


def test_the_recorded_bulletins_of_forecasts(shared_data: Path) -> None:
    raws = found(shared_data / "feeds" / "TAF_collective_pyiem.txt", Kind.TAF)
    assert [next(w for w in raw.split() if w.startswith("PA")) for raw in raws] == ["PAGK", "PAKN"]
