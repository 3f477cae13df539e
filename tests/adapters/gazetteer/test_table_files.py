"""Tables are known by their header, and one bad line costs its neighbours nothing."""

import gzip
from pathlib import Path

import pytest

from refuge.errors import InputError
from refuge.gazetteer.report import Tally
from refuge.gazetteer.table_files import read_tables, table_kind

HEADER = "id,ident,type,name,latitude_deg,longitude_deg,elevation_ft,iso_country"
GOOD = [f"{n},XB{n:02},small_airport,Field {n},10.0,20.0,{n}00,XB" for n in range(1, 6)]


def table(*lines: str) -> list[tuple[str, bytes]]:
    return [("somewhere.txt", "\n".join((HEADER, *lines)).encode())]


def idents(files: list[tuple[str, bytes]], tally: Tally) -> list[str]:
    return list(read_tables(files, tally).airports["ident"])


@pytest.mark.parametrize(
    "bad",
    [
        '9,XB09,small_airport,"Torn quote,10.0,20.0,900,XB',
        '9,XB09,small_airport,Quo"te" and "one,10.0,20.0,900,XB',
        "9,XB09,small_airport,Too few,10.0",
        "9,XB09,small_airport,Too,many,10.0,20.0,900,XB,more,more",
        "9",
        '"',
        "\x00\x00",
    ],
)
def test_a_bad_line_loses_only_itself(bad: str) -> None:
    tally = Tally()
    assert idents(table(*GOOD[:2], bad, *GOOD[2:]), tally) == ["XB01", "XB02", "XB03", "XB04", "XB05"]
    (finding,) = tally.findings()
    assert (finding.outcome, finding.reason, finding.count) == ("dropped", "damaged line of the airports table", 1)


def test_a_cell_beyond_what_the_reader_takes_loses_only_its_line() -> None:
    tally = Tally()
    long = f"9,XB09,small_airport,{'x' * 200_000},10.0,20.0,900,XB"
    assert idents(table(GOOD[0], long, *GOOD[1:3]), tally) == ["XB01", "XB02", "XB03"]
    assert [f.count for f in tally.findings()] == [1]


def test_bytes_that_are_no_text_lose_only_their_cell() -> None:
    name, data = table(*GOOD)[0]
    assert idents([(name, data.replace(b"Field 3", b"\xff\xfe 3"))], Tally()) == [f"XB0{n}" for n in range(1, 6)]


def test_na_is_a_country_and_not_a_missing_value() -> None:
    rows = read_tables(table("1,XB01,small_airport,Field,10.0,20.0,100,NA"), Tally()).airports
    assert list(rows["iso_country"]) == ["NA"]  # ISO 3166-1: Namibia


def test_line_separators_inside_a_cell_do_not_end_a_line() -> None:
    tally = Tally()
    line = "9,XB09,small_airport,A\u2028B\x0bC\x85D,10.0,20.0,900,XB"
    assert idents(table(GOOD[0], line), tally) == ["XB01", "XB09"]
    assert tally.findings() == ()


def test_gzip_and_byte_order_mark() -> None:
    name, data = table(*GOOD)[0]
    assert len(idents([(name, gzip.compress(b"\xef\xbb\xbf" + data))], Tally())) == 5


def test_damaged_gzip_is_refused() -> None:
    name, data = table(*GOOD)[0]
    with pytest.raises(InputError, match="damaged gzip"):
        read_tables([(name, gzip.compress(data)[:-12])], Tally())


def test_header_tells_the_kind_whatever_the_name(samples: Path) -> None:
    kinds = {
        name: table_kind((samples / f"{name}.csv").read_bytes(), where=name) for name in ("airports", "runways")
    }
    assert kinds == {"airports": "airports", "runways": "runways"}
    assert table_kind(b"id,airport_ref,airport_ident,type,description,frequency_mhz\n", where="x") is None
    assert table_kind(b"", where="x") is None


def test_what_cannot_be_used_is_refused_with_a_remedy(samples: Path) -> None:
    runways = ("runways.csv", (samples / "runways.csv").read_bytes())
    with pytest.raises(InputError, match=r"no table of airports.*add airports\.csv"):
        read_tables([runways], Tally())
    with pytest.raises(InputError, match="second table of runways"):
        read_tables([runways, runways], Tally())
    with pytest.raises(InputError, match=r"poem\.txt: not a table"):
        read_tables([("poem.txt", b"Roses are red\n")], Tally())
