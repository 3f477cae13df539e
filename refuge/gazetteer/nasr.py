"""The FAA's tables to what they say of each landing facility, site by site.

What they can say that no other source does: which runways have edge lights (a blank is "none"), what
burns without a radio (refuge.gazetteer.light_remarks), the tower and its hours, private use, and how much
of a runway is left behind a displaced threshold. An end's heading is the FAA's true alignment.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from refuge.airfield import LightDetail, LightKind, Runway, RunwayEnd, Tower
from refuge.gazetteer.gazette import HIGHEST_FT, LOWEST_FT
from refuge.gazetteer.light_remarks import lights_of
from refuge.gazetteer.report import Tally
from refuge.gazetteer.runways import LONGEST_FT, WIDEST_FT
from refuge.gazetteer.surfaces import surface_of
from refuge.gazetteer.tower_hours import tower_hours

_LIT = {"HIGH": True, "MED": True, "LOW": True, "NSTD": True, "": False}
"""RWY_LGT_CODE; flood, strobe and perimeter lights (FLD, STRB, PERI) tell nothing of the edges: unknown."""
NO_TOWER = "NON-ATCT"
NO_DETAIL = LightDetail()
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One landing facility as the FAA has it; ``None`` is "its tables, as given, do not say".

    ``kind`` is A for an airport, H heliport, C seaplane base, B balloonport, G gliderport, U ultralight.
    """

    arpt_id: str
    icao_id: str
    kind: str
    source: str
    name: str = ""
    lat_deg: float | None = None
    lon_deg: float | None = None
    elevation_ft: float | None = None
    open: bool | None = None
    private: bool | None = None
    runways: tuple[Runway, ...] | None = None
    lights: LightKind = "unknown"
    lights_detail: LightDetail = NO_DETAIL
    tower: Tower | None = None
    class_b: bool | None = None

    @property
    def codes(self) -> tuple[str, ...]:
        """Return the codes that the field goes by, the most trusted first."""
        style = f"K{self.arpt_id}" if len(self.arpt_id) == 3 and self.arpt_id.isalpha() else ""
        return tuple(dict.fromkeys(code for code in (self.icao_id, self.arpt_id, style) if code))


def sites_of(tables: Mapping[str, pd.DataFrame], tally: Tally) -> tuple[Site, ...]:
    """Return every site of the tables that the fields or the runways name."""
    rows = {kind: _by_site(table) for kind, table in tables.items()}
    towers = {row["SITE_NO"]: row for row in _records(tables.get("towers")) if "ATCT" in row["FACILITY_TYPE"]}
    class_b = None
    if "airspace" in tables:
        class_b = {row["SITE_NO"] for row in _records(tables["airspace"]) if row["CLASS_B_AIRSPACE"] == "Y"}
    names = dict.fromkeys([*rows.get("fields", {}), *rows.get("runways", {})])
    return tuple(_site(number, rows, towers.get(number), class_b, tally) for number in names)


def _records(table: pd.DataFrame | None) -> list[Row]:
    return (
        []
        if table is None
        else [{str(name): text for name, text in row.items()} for row in table.to_dict("records")]
    )


def _by_site(table: pd.DataFrame) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for row in _records(table):
        found[row["SITE_NO"]].append(row)
    return found


def _site(
    number: str,
    rows: Mapping[str, Mapping[str, list[Row]]],
    tower: Row | None,
    class_b: set[str] | None,
    tally: Tally,
) -> Site:
    of = {kind: table.get(number, []) for kind, table in rows.items()}
    base = next(iter(of.get("fields", [])), None)
    first = base or of["runways"][0]
    source = f"FAA {first['EFF_DATE'].replace('/', '-')}"
    strips = _runways(of, source, tally) if "runways" in rows else None
    if base is None:
        return Site(
            arpt_id=first["ARPT_ID"], icao_id="", kind=first["SITE_TYPE_CODE"], source=source, runways=strips
        )
    lights, detail = _lights(base, strips, of.get("remarks"), source)
    return Site(
        arpt_id=base["ARPT_ID"],
        icao_id=base["ICAO_ID"],
        kind=base["SITE_TYPE_CODE"],
        source=source,
        name=base["ARPT_NAME"],
        lat_deg=_number(base["LAT_DECIMAL"], -90.0, 90.0),
        lon_deg=_number(base["LONG_DECIMAL"], -180.0, 180.0),
        elevation_ft=_number(base["ELEV"], LOWEST_FT, HIGHEST_FT),
        open={"O": True, "": None}.get(base["ARPT_STATUS"], False),
        private={"PR": True, "PU": False}.get(base["FACILITY_USE_CODE"]),
        runways=strips,
        lights=lights,
        lights_detail=detail,
        tower=_tower(base, tower, source),
        class_b=None if class_b is None else number in class_b,
    )


def _tower(base: Row, tower: Row | None, source: str) -> Tower | None:
    if base["TWR_TYPE_CODE"] in {NO_TOWER, ""}:
        return None
    text = "" if tower is None else tower["TWR_HRS"]
    return Tower(text=text, hours=tower_hours(text), source=source)


def _runways(of: Mapping[str, list[Row]], source: str, tally: Tally) -> tuple[Runway, ...]:
    ends: dict[str, list[Row]] = defaultdict(list)
    for end in of.get("ends", []):
        ends[end["RWY_ID"]].append(end)
    found = []
    for row in of["runways"]:
        if row["RWY_ID"].startswith("H"):
            tally.add("dropped", "helipad among the runways", [row["ARPT_ID"]])
        elif _number(row["RWY_LEN"], 1.0, LONGEST_FT) is None and "/" not in row["RWY_ID"]:
            tally.add(
                "dropped", "runway without length and without a second end", [f"{row['ARPT_ID']} {row['RWY_ID']}"]
            )
        else:
            found.append(_runway(row, ends[row["RWY_ID"]], source))
    return tuple(found)


def _runway(row: Row, ends: list[Row], source: str) -> Runway:
    length = _number(row["RWY_LEN"], 1.0, LONGEST_FT)
    width = _number(row["RWY_WIDTH"], 1.0, WIDEST_FT)
    length_ft = None if length is None else round(length)
    both = tuple(_end(end, length_ft) for end in ends)
    heading = next((end.heading_deg_true for end in both if end.ident == row["RWY_ID"].split("/")[0]), None)
    return Runway(
        idents=row["RWY_ID"],
        length_ft=length_ft,
        width_ft=None if width is None else round(width),
        surface=surface_of(row["SURFACE_TYPE_CODE"]),
        surface_text=row["SURFACE_TYPE_CODE"],
        lighted=_LIT.get(row["RWY_LGT_CODE"]),
        heading_deg_true=heading,
        ends=both,
        source=source,
    )


def _end(end: Row, length_ft: int | None) -> RunwayEnd:
    """Return one end: what is left to land on is the least of what the table says."""
    displaced = _number(end["DISPLACED_THR_LEN"], 0.0, LONGEST_FT) or 0.0
    declared = _number(end["LNDG_DIST_AVBL"], 1.0, LONGEST_FT)
    left = None if length_ft is None else round(length_ft - displaced)
    lengths = [ft for ft in (left, None if declared is None else round(declared)) if ft is not None]
    return RunwayEnd(
        ident=end["RWY_END_ID"],
        heading_deg_true=_number(end["TRUE_ALIGNMENT"], 0.0, 360.0),
        landing_ft=None if length_ft is None else max(min(lengths), 0),
        right_traffic={"Y": True, "N": False}.get(end["RIGHT_HAND_TRAFFIC_PAT_FLAG"]),
    )


def _lights(
    base: Row, strips: tuple[Runway, ...] | None, remarks: list[Row] | None, source: str
) -> tuple[LightKind, LightDetail]:
    """Return what burns at a field; unknown where the table of remarks or of runways is not among the files."""
    beacon = {"SS-SR": True}.get(base["BCN_LGT_SKED"])
    if strips is None or remarks is None:
        return "unknown", LightDetail(beacon=beacon, text=base["LGT_SKED"], source=source)
    own = [row["REMARK"] for row in remarks if row["REF_COL_NAME"] == "LGT_SKED"]
    others = [row["REMARK"] for row in remarks if row["REF_COL_NAME"] not in {"LGT_SKED", "BCN_LGT_SKED"}]
    kind, detail = lights_of(base["LGT_SKED"], own, others, source=source)
    detail = LightDetail(
        until_local=detail.until_local, after=detail.after, beacon=beacon, text=detail.text, source=source
    )
    lit = [strip for strip in strips if strip.lighted]
    if strips and all(strip.lighted is False for strip in strips):
        return ("none" if not detail.text else "unknown"), detail
    # Lights that a remark names runway by runway need not burn at all of several.
    if not lit or (len(lit) > 1 and any("RWY" in text.upper() for text in own)):
        kind = "unknown" if kind in {"dusk_to_dawn", "until"} else kind
    return kind, detail


def _number(text: str, low: float, high: float) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if low <= value <= high else None
