"""The FAA's tables: what they say of a site, and how they are laid over airfields of another source."""

import csv
import io
import zipfile
from dataclasses import replace
from datetime import time
from pathlib import Path

import pytest

from refuge.airfield import Airfield, Runway
from refuge.errors import InputError
from refuge.gazetteer.nasr import Site, sites_of
from refuge.gazetteer.nasr_files import TABLES, read_nasr_tables
from refuge.gazetteer.overlay import Overlaid, overlay
from refuge.gazetteer.report import Tally

DATE = "2025/09/04"
BFZ = (
    "DUSK - 2300. MIRL RWY 05/23 PRESET MED INTST DUSK-2300; TO INCR INTST - CTAF. AFT 2300 ACTVT REIL RWY 23;"
    " PAPI RWYS 05 & 23; MIRL RWY 05/23 - CTAF."
)
"""Rows below that name BFZ, AL03 or ABE are of the FAA's tables of 2025-09-04, cut to the columns that are read."""


def csv_of(kind: str, *rows: dict[str, str]) -> tuple[str, bytes]:
    columns = TABLES[kind]
    assert all(set(row) <= set(columns) for row in rows)
    lines = [",".join(f'"{row.get(column, "")}"' for column in columns) for row in rows]
    return f"{kind}.csv", "\n".join([",".join(f'"{column}"' for column in columns), *lines]).encode()


SITE = {"EFF_DATE": DATE, "SITE_NO": "00112.1", "SITE_TYPE_CODE": "A", "ARPT_ID": "BFZ", "COUNTRY_CODE": "US"}
FIELD = SITE | {
    "ARPT_NAME": "ALBERTVILLE RGNL/THOMAS J BRUMLIK FLD", "FACILITY_USE_CODE": "PU", "LAT_DECIMAL": "34.22911111",
    "LONG_DECIMAL": "-86.25575", "ELEV": "1032.3", "ARPT_STATUS": "O", "LGT_SKED": "SEE RMK",
    "BCN_LGT_SKED": "SS-SR",
    "TWR_TYPE_CODE": "NON-ATCT", "ICAO_ID": "KBFZ",
}  # fmt: skip
STRIP = SITE | {
    "RWY_ID": "05/23",
    "RWY_LEN": "6114",
    "RWY_WIDTH": "100",
    "SURFACE_TYPE_CODE": "ASPH",
    "RWY_LGT_CODE": "MED",
}
LOW = SITE | {"RWY_ID": "05/23", "RWY_END_ID": "05", "TRUE_ALIGNMENT": "48", "RIGHT_HAND_TRAFFIC_PAT_FLAG": "N"}
HIGH = LOW | {"RWY_END_ID": "23", "TRUE_ALIGNMENT": "228"}
REMARK = SITE | {"REF_COL_NAME": "LGT_SKED", "ELEMENT": "", "REMARK": BFZ}


def tables(**rows: list[dict[str, str]]) -> tuple[Site, ...]:
    given: dict[str, list[dict[str, str]]] = {
        "fields": [FIELD],
        "runways": [STRIP],
        "ends": [LOW, HIGH],
        "remarks": [REMARK],
    }
    files = [csv_of(kind, *of) for kind, of in (given | rows).items()]
    return sites_of(read_nasr_tables(files, Tally()), Tally())


def test_a_site_with_all_that_its_tables_say() -> None:
    (site,) = tables()
    assert (site.lights, site.lights_detail.until_local, site.lights_detail.after) == ("until", time(23), "radio")
    assert (site.private, site.tower, site.open, site.lights_detail.beacon) == (False, None, True, True)
    assert site.runways is not None
    (runway,) = site.runways
    assert (runway.idents, runway.length_ft, runway.surface, runway.lighted) == ("05/23", 6114, "hard", True)
    assert [(end.ident, end.heading_deg_true, end.landing_ft) for end in runway.ends] == [
        ("05", 48.0, 6114),
        ("23", 228.0, 6114),
    ]
    assert site.source == "FAA 2025-09-04"


def test_displaced_thresholds_and_declared_distances_shorten() -> None:
    # AL03 01/19: 2,002 ft, thresholds displaced by 400 and 600 ft.
    strip = STRIP | {"RWY_ID": "01/19", "RWY_LEN": "2002", "SURFACE_TYPE_CODE": "TURF", "RWY_LGT_CODE": ""}
    ends = [
        LOW | {"RWY_ID": "01/19", "RWY_END_ID": "01", "TRUE_ALIGNMENT": "", "DISPLACED_THR_LEN": "400"},
        LOW
        | {
            "RWY_ID": "01/19",
            "RWY_END_ID": "19",
            "TRUE_ALIGNMENT": "",
            "DISPLACED_THR_LEN": "600",
            "LNDG_DIST_AVBL": "1300",
        },
    ]
    (site,) = tables(runways=[strip], ends=ends)
    assert site.runways is not None
    assert [end.landing_ft for end in site.runways[0].ends] == [1602, 1300]
    assert [end.heading_deg_true for end in site.runways[0].ends] == [None, None]
    assert site.runways[0].lighted is False


@pytest.mark.parametrize(
    ("changes", "lights"),
    [
        ({"remarks": [REMARK | {"REMARK": BFZ.replace("PRESET", "OFTEN")}]}, "unknown"),
        ({"remarks": [REMARK, REMARK | {"REF_COL_NAME": "GENERAL_REMARK", "REMARK": "NO NIGHT OPNS."}]}, "unknown"),
        ({"fields": [FIELD | {"LGT_SKED": "SS-SR"}], "remarks": []}, "dusk_to_dawn"),
        ({"fields": [FIELD | {"LGT_SKED": ""}], "remarks": []}, "unknown"),
        ({"fields": [FIELD | {"LGT_SKED": ""}], "runways": [STRIP | {"RWY_LGT_CODE": ""}], "remarks": []}, "none"),
        (
            {"fields": [FIELD | {"LGT_SKED": "SS-SR"}], "runways": [STRIP | {"RWY_LGT_CODE": ""}], "remarks": []},
            "unknown",
        ),
        (
            {
                "fields": [FIELD | {"LGT_SKED": "SS-SR"}],
                "runways": [STRIP | {"RWY_LGT_CODE": "FLD"}],
                "remarks": [],
            },
            "unknown",
        ),
        ({"runways": [STRIP, STRIP | {"RWY_ID": "18/36"}]}, "unknown"),  # lights named runway by runway, of two
    ],
)
def test_lights(changes: dict[str, list[dict[str, str]]], lights: str) -> None:
    (site,) = tables(**changes)
    assert site.lights == lights


def test_without_the_table_of_remarks_no_light_is_said_to_burn() -> None:
    files = [csv_of("fields", FIELD | {"LGT_SKED": "SS-SR"}), csv_of("runways", STRIP)]
    (site,) = sites_of(read_nasr_tables(files, Tally()), Tally())
    assert site.lights == "unknown"


def test_towers_and_class_b() -> None:
    tower = {
        "EFF_DATE": DATE,
        "SITE_NO": "00112.1",
        "SITE_TYPE_CODE": "A",
        "FACILITY_TYPE": "ATCT",
        "FACILITY_ID": "BFZ",
    }
    towered = FIELD | {"TWR_TYPE_CODE": "ATCT"}
    (site,) = tables(fields=[towered], towers=[tower | {"TWR_HRS": "0600-2200"}])
    assert site.tower is not None
    assert site.tower.hours is not None
    (unsaid,) = tables(fields=[towered])
    assert unsaid.tower is not None
    assert unsaid.tower.hours is None
    space = {"EFF_DATE": DATE, "SITE_NO": "00112.1", "ARPT_ID": "BFZ", "CLASS_B_AIRSPACE": "Y"}
    assert [site.class_b for site in tables(airspace=[space])] == [True]
    assert [site.class_b for site in tables(airspace=[space | {"CLASS_B_AIRSPACE": ""}])] == [False]
    assert unsaid.class_b is None


def test_files_are_known_by_their_columns_also_in_a_zip() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in (csv_of("fields", FIELD), csv_of("runways", STRIP), ("NOTES.csv", b"a,b\n1,2\n")):
            archive.writestr(name, data)
    tally = Tally()
    assert set(read_nasr_tables([("all.zip", packed.getvalue())], tally)) == {"fields", "runways"}
    assert sum(f.count for f in tally.findings()) == 1
    with pytest.raises(InputError, match="damaged zip"):
        read_nasr_tables([("all.zip", packed.getvalue()[:200])], Tally())
    with pytest.raises(InputError, match="neither a table"):
        read_nasr_tables([csv_of("remarks", REMARK)], Tally())
    with pytest.raises(InputError, match="second table"):
        read_nasr_tables([csv_of("fields", FIELD), csv_of("fields", FIELD)], Tally())


# --- laid over another source ----------------------------------------------------------------------------

OTHER_STRIP = Runway(
    idents="05/23", length_ft=6114, surface="hard", lighted=True, heading_deg_true=48.0, source="other"
)
OTHER = Airfield(
    id="KBFZ", name="Albertville", lat_deg=34.2291, lon_deg=-86.2558, elevation_ft=1032.0, country="US",
    runways=(OTHER_STRIP,),
    source="other",
)  # fmt: skip
ZONES = {"KBFZ": (34.229109, -86.255756, "America/Chicago")}


def laid(
    *fields: Airfield, sites: tuple[Site, ...] = (), codes: dict[str, tuple[str, ...]] | None = None
) -> Overlaid:
    return overlay(fields, codes or {}, sites or tables(), ZONES, Tally())


def reasons(found: Overlaid) -> list[str]:
    return [finding.reason for finding in found.report.findings]


def test_by_identifier_and_position() -> None:
    found = laid(OTHER)
    (field,) = found.airfields
    assert (field.lights, field.private, field.time_zone) == ("until", False, "America/Chicago")
    assert field.source == "other; FAA 2025-09-04"
    assert reasons(found) == []
    assert laid(field).airfields == (field,)  # a second time changes nothing
    (old,) = laid(replace(OTHER, id="8A0"), codes={"8A0": ("8A0", "BFZ")}).airfields
    assert (old.id, old.lights) == ("8A0", "until")


def test_the_same_code_elsewhere_is_another_field() -> None:
    found = laid(replace(OTHER, lat_deg=35.2))
    assert len(found.airfields) == 2
    assert found.airfields[0].lights == "unknown"
    assert "match by code alone: elsewhere, or another runway" in reasons(found)


def test_the_same_place_under_another_code_is_listed_and_left() -> None:
    found = laid(replace(OTHER, id="ZZZ"))
    assert [field.lights for field in found.airfields] == ["unknown"]
    assert any("another identifier stands there" in reason for reason in reasons(found))


def test_the_worse_of_two_values_counts_and_the_conflict_is_listed() -> None:
    other = OTHER_STRIP
    shorter = laid(replace(OTHER, runways=(replace(other, length_ft=5000),)))
    assert shorter.airfields[0].runways is not None
    assert shorter.airfields[0].runways[0].length_ft == 5000
    assert [end.landing_ft for end in shorter.airfields[0].runways[0].ends] == [5000, 5000]
    longer = laid(replace(OTHER, runways=(replace(other, length_ft=7000),)))
    assert longer.airfields[0].runways is not None
    assert longer.airfields[0].runways[0].length_ft == 6114
    for found in (shorter, longer):
        assert "conflict: runway lengths differ: the shorter counts" in reasons(found)
    closed = laid(replace(OTHER, runways=(replace(other, closed=True),)))
    assert closed.airfields[0].runways is not None
    assert closed.airfields[0].runways[0].closed
    turned = laid(replace(OTHER, runways=(replace(other, heading_deg_true=76.0),)))
    assert turned.airfields[0].runways is not None
    assert [end.heading_deg_true for end in turned.airfields[0].runways[0].ends] == [None, None]


def test_a_field_that_the_faa_has_closed_or_as_a_heliport_goes() -> None:
    for change in ({"ARPT_STATUS": "CP"}, {"SITE_TYPE_CODE": "H"}):
        found = laid(OTHER, sites=tables(fields=[FIELD | change]))
        assert found.airfields == ()


def test_a_site_that_nobody_had_is_added() -> None:
    far = replace(OTHER, id="KXXX", lat_deg=40.0)
    found = laid(far)
    assert [field.id for field in found.airfields] == ["KXXX", "KBFZ"]
    assert found.airfields[1].name == "Albertville Rgnl/Thomas J Brumlik Fld"


def test_runways_alone_need_a_runway_in_common() -> None:
    only = sites_of(read_nasr_tables([csv_of("runways", STRIP | {"RWY_LGT_CODE": ""})], Tally()), Tally())
    (field,) = laid(replace(OTHER, runways=(replace(OTHER_STRIP, lighted=None),)), sites=only).airfields
    assert field.lights == "none"
    assert field.runways is not None
    assert field.runways[0].heading_deg_true == 48.0  # the FAA's table has none: the other's stays
    elsewhere = sites_of(read_nasr_tables([csv_of("runways", STRIP | {"RWY_ID": "18/36"})], Tally()), Tally())
    assert laid(OTHER, sites=elsewhere).airfields == (OTHER,)


def test_the_real_samples(shared_data: Path) -> None:
    folder = shared_data / "airfields" / "nasr"
    files = [(path.name, path.read_bytes()) for path in sorted(folder.glob("sample_*.csv"))]
    sites = {site.arpt_id: site for site in sites_of(read_nasr_tables(files, Tally()), Tally())}
    assert {name: site.lights for name, site in sites.items() if site.kind == "A"} == {
        "AL03": "none", "BFZ": "until", "ALX": "radio", "ANB": "radio", "51AL": "none", "NBJ": "none",
        "OZR": "dusk_to_dawn", "LAX": "unknown", "ATL": "unknown", "ORD": "unknown",
    }  # fmt: skip
    assert {site.arpt_id for site in sites.values() if site.private} >= {"AL03", "51AL"}
    assert {name for name, site in sites.items() if site.tower} >= {"LAX", "ATL", "ORD"}


def test_the_whole_table_of_runways(shared_data: Path) -> None:
    path = shared_data / "airfields" / "nasr" / "APT_RWY.csv"
    tally = Tally()
    sites = sites_of(read_nasr_tables([(path.name, path.read_bytes())], tally), tally)
    strips = [runway for site in sites for runway in site.runways or ()]
    assert len(sites) == 20_165
    with path.open(newline="", encoding="utf-8-sig") as file:
        rows = [row for row in csv.DictReader(file) if "/" in row["RWY_ID"] and not row["RWY_ID"].startswith("H")]
    lit = [row for row in rows if row["RWY_LGT_CODE"] in {"HIGH", "MED", "LOW", "NSTD"}]
    assert sum(strip.lighted is True and "/" in strip.idents for strip in strips) == len(lit)
    assert len(lit) > 5_500
