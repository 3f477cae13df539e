"""OurAirports' traps, one row each. Real rows are in fixtures/gazetteer; those on XB are invented."""

from collections.abc import Callable

import pytest

from refuge.airfield import Airfield, Runway
from refuge.gazetteer.gazette import Gazette

Reader = Callable[..., Gazette]
AIRPORT = "{id},{ident},{type},Invented,{lat},{lon},{elev},XX,{country},XX-1,,no,,,,{local},\n"
RUNWAY = '{id},{ref},"XB01",{length},{width},{surface},{lighted},{closed},{low},,,,{heading},,{high},,,,,\n'


def airport(**values: object) -> str:
    return AIRPORT.format_map(
        {
            "id": 1,
            "ident": "XB01",
            "type": "small_airport",
            "lat": 10.5,
            "lon": -20.5,
            "elev": 100,
            "country": "XB",
            "local": "",
        }
        | values
    )


def runway(**values: object) -> str:
    return RUNWAY.format_map(
        {
            "id": 1,
            "ref": 1,
            "length": 3000,
            "width": 60,
            "surface": "ASP",
            "lighted": 0,
            "closed": 0,
            "low": "09",
            "high": "27",
            "heading": 95,
        }
        | values
    )


def by_id(gazette: Gazette) -> dict[str, Airfield]:
    return {airfield.id: airfield for airfield in gazette.airfields}


def one(gazette: Gazette, id_: str = "XB01") -> Airfield:
    return by_id(gazette)[id_]


def strips(airfield: Airfield) -> tuple[Runway, ...]:
    assert airfield.runways is not None
    return airfield.runways


@pytest.mark.parametrize(
    ("ident", "reason"),
    [
        ("00A", "heliport"),
        ("01WI", "closed airfield"),
        ("00NK", "seaplane base"),
        ("12JY", "balloonport"),
    ],
)
def test_what_is_no_open_land_airfield_is_out_and_counted(read: Reader, ident: str, reason: str) -> None:
    gazette = read()
    assert ident not in by_id(gazette)
    assert gazette.report.count("dropped", reason) == 1


def test_a_kind_that_is_not_known_is_out_and_named(read: Reader) -> None:
    gazette = read(airports=airport(type="spaceport"))
    assert "XB01" not in by_id(gazette)
    (finding,) = [f for f in gazette.report.findings if "kind of place" in f.reason]
    assert finding.examples == ("XB01: spaceport",)


def test_runways_of_closed_fields_are_counted_by_their_own_flag(read: Reader) -> None:
    report = read().report
    # 01WI's runway is open by its own flag.
    assert report.count("dropped", "runway of a closed airfield, not flagged closed itself") == 1
    assert report.count("dropped", "runway of a closed airfield, flagged closed itself") == 0


def test_no_elevation_stays_unknown_and_the_field_stays(read: Reader) -> None:
    gazette = read()
    assert one(gazette, "22UT").elevation_ft is None
    assert gazette.report.count("noted", "airfield without elevation: kept, elevation unknown") == 1


@pytest.mark.parametrize("elev", ["abc", "nan", "inf", "-inf", "99999", "-2000", "1e9"])
def test_an_elevation_that_is_none_is_unknown_and_counted(read: Reader, elev: str) -> None:
    gazette = read(airports=airport(elev=elev) + airport(id=2, ident="XB02", elev=0))
    assert one(gazette).elevation_ft is None
    assert one(gazette, "XB02").elevation_ft == 0.0
    (finding,) = [f for f in gazette.report.findings if f.reason.startswith("airfield elevation")]
    assert (finding.outcome, finding.examples) == ("changed", (f"XB01: {elev}",))


@pytest.mark.parametrize(
    ("lat", "lon"), [("", "20"), ("90.1", "20"), ("10", "-180.1"), ("x", "y"), ("nan", "20"), ("0", "0.0")]
)
def test_a_position_that_is_none_is_out_and_spares_its_neighbours(read: Reader, lat: str, lon: str) -> None:
    gazette = read(airports=airport(lat=lat, lon=lon) + airport(id=2, ident="XB02"))
    assert "XB01" not in by_id(gazette)
    assert "XB02" in by_id(gazette)
    assert sum(f.count for f in gazette.report.findings if f.reason.startswith("position")) == 1


def test_a_second_row_of_one_identifier_is_merged_into_the_first(read: Reader) -> None:
    gazette = read(airports=airport(elev=100) + airport(id=2, elev=200) + airport(id=1, ident="XB03"))
    assert one(gazette).elevation_ft == 100.0
    assert "XB03" not in by_id(gazette)
    assert gazette.report.count("merged", "second row with an identifier that came before: the first kept") == 2


def test_an_identifier_is_the_code_in_use_and_nobody_elses(read: Reader) -> None:
    ids = by_id(read())
    assert ids["OAAK"].name == "Andkhoy Airport"  # AF-0020 in the source
    assert ids["KBFZ"].name.startswith("Albertville")  # K8A0 in the source
    assert ids["NZAN"].name == "Anama airstrip"  # holds the ICAO code NZAN
    assert ids["OA32068"].name == "Alfredton Airport"  # has only the source's identifier NZAN
    assert ids["00AA"].name == "Aero B Ranch Airport"


def test_codes_come_with_the_one_in_use_first(read: Reader) -> None:
    codes = read().codes
    assert codes["KBFZ"] == ("KBFZ", "K8A0")
    assert codes["1K5"] == ("1K5", "K1K5")  # K and the local code, in the United States
    assert codes["LOWZ"] == ("LOWZ",)


def test_without_a_table_of_runways_runways_are_unknown_and_that_is_said(read: Reader) -> None:
    gazette = read(runways=None)
    assert {airfield.runways for airfield in gazette.airfields} == {None}
    assert {airfield.lights for airfield in gazette.airfields} == {"unknown"}
    assert gazette.report.count("noted", "no table of runways was given: runways unknown") == len(gazette.airfields)


def test_a_field_without_runway_rows_has_unknown_runways(read: Reader) -> None:
    assert one(read(), "00AA").runways is None


def test_a_runway_as_the_source_gives_it(read: Reader) -> None:
    # OurAirports, runway 239736 of K8A0.
    assert one(read(), "KBFZ").runways == (
        Runway(
            idents="05/23",
            length_ft=6114,
            width_ft=100,
            surface="hard",
            surface_text="ASP",
            lighted=True,
            closed=False,
            heading_deg_true=48.0,
        ),
    )


def test_water_among_the_runways_is_marked_water(read: Reader) -> None:
    kinds = {runway.idents: runway.surface for runway in strips(one(read(), "9TE4"))}
    assert kinds == {"08W/26W": "water", "09/27": "soft", "17/35": "soft", "17W/35W": "water"}


def test_helipads_of_an_airfield_are_no_runways(read: Reader) -> None:
    gazette = read(airports=airport(), runways=runway(low="H1", high=""))
    assert [runway.idents for runway in strips(one(gazette, "05OR"))] == ["11/29"]
    assert one(gazette).runways is None  # nothing but a helipad is known of it
    assert gazette.report.count("dropped", "helipad among an airfield's runways") == 2


def test_a_runway_whose_surface_says_closed_is_closed(read: Reader) -> None:
    assert {runway.idents: runway.closed for runway in strips(one(read(), "LOWZ"))} == {
        "07/25": False,
        "07R/25L": False,
        "XX/XX": True,
    }
    gazette = read(airports=airport(), runways=runway(surface="CLOSED"))
    assert strips(one(gazette))[0].closed is True


@pytest.mark.parametrize("flag", ["1", "", "yes", "2"])
def test_only_an_explicit_no_is_not_closed(read: Reader, flag: str) -> None:
    gazette = read(airports=airport(), runways=runway(closed=flag))
    assert strips(one(gazette))[0].closed is True


@pytest.mark.parametrize("length", ["", "0", "-1", "abc", "inf", "nan", "88000"])
def test_a_length_that_is_none_is_unknown(read: Reader, length: str) -> None:
    gazette = read(airports=airport(), runways=runway(length=length) + runway(id=2, low="01", high="19", heading=5))
    assert [runway.length_ft for runway in strips(one(gazette))] == [None, 3000]
    counted = sum(f.count for f in gazette.report.findings if f.reason.startswith("runway length"))
    assert counted == (0 if length == "" else 1)


def test_wider_than_long_makes_both_unknown(read: Reader) -> None:
    (strip,) = strips(one(read(airports=airport(), runways=runway(length=60, width=3000))))
    assert (strip.length_ft, strip.width_ft) == (None, None)


def test_a_heading_that_contradicts_the_number_is_unknown(read: Reader) -> None:
    rows = (
        runway(heading=9)
        + runway(id=2, low="36", high="18", heading=2)
        + runway(id=3, low="N", high="S", heading=9)
    )
    headings = [runway.heading_deg_true for runway in strips(one(read(airports=airport(), runways=rows)))]
    assert headings == [None, 2.0, 9.0]


def test_twin_rows_of_one_runway_keep_the_worse_of_each(read: Reader) -> None:
    rows = runway(length=3000, lighted=1) + runway(id=2, length=2500, surface="TURF", closed=1)
    gazette = read(airports=airport(), runways=rows)
    (strip,) = strips(one(gazette))
    assert (strip.length_ft, strip.surface, strip.lighted, strip.closed) == (2500, "unknown", None, True)
    assert gazette.report.count("merged", "two rows of one runway: the worse of each value kept") == 1


def test_rows_without_idents_are_not_twins(read: Reader) -> None:
    rows = runway(low="", high="", heading="") + runway(id=2, low="", high="", heading="")
    assert len(strips(one(read(airports=airport(), runways=rows)))) == 2


@pytest.mark.parametrize(
    ("country", "rows", "lights"),
    [
        ("US", runway(lighted=0), "none"),
        ("US", runway(lighted=1), "unknown"),
        ("US", runway(lighted=""), "unknown"),
        ("US", runway(lighted=0) + runway(id=2, low="01", high="19", heading=5, lighted=1), "unknown"),
        ("US", runway(lighted=0) + runway(id=2, low="01", high="19", heading=5, lighted=1, closed=1), "none"),
        ("US", runway(lighted=0, closed=1), "unknown"),
        ("US", "", "unknown"),
        ("XB", runway(lighted=0), "unknown"),
    ],
)
def test_lights_are_none_only_where_a_zero_means_no(read: Reader, country: str, rows: str, lights: str) -> None:
    gazette = read(airports=airport(country=country), runways=rows)
    assert one(gazette).lights == lights


def test_lights_are_never_said_to_burn_without_a_radio(read: Reader) -> None:
    assert {airfield.lights for airfield in read().airfields} <= {"unknown", "none"}


def test_shared_local_codes_and_strange_countries_are_noted(read: Reader) -> None:
    gazette = read(airports=airport(local="AA1") + airport(id=2, ident="XB02", local="AA1"))
    reasons = {f.reason: f.count for f in gazette.report.findings}
    assert reasons["local code that several airfields use: no code is trusted without the distance"] == 1
    assert reasons["country code that the table of countries has not"] == 2


def test_every_row_read_is_kept_dropped_or_merged(read: Reader) -> None:
    report = read(airports=airport() + airport() + airport(id=3, ident="XB03", lat="?")).report
    lost = {
        "heliport",
        "closed airfield",
        "seaplane base",
        "balloonport",
        "position is no place on earth",
        "second row with an identifier that came before: the first kept",
    }
    counted = sum(f.count for f in report.findings if f.reason in lost)
    assert dict(report.read)["airports"] == dict(report.kept)["airfields"] + counted
