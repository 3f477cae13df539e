"""The FAA's tables of its 28-day subscription (NASR, US Government work), as text, known by their columns."""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import PurePath

import pandas as pd

from refuge.errors import InputError
from refuge.gazetteer.packed import plain
from refuge.gazetteer.report import Tally
from refuge.gazetteer.table_files import frame_of, lines_of

_SITE = ("EFF_DATE", "SITE_NO", "SITE_TYPE_CODE", "ARPT_ID", "COUNTRY_CODE")
TABLES: dict[str, tuple[str, ...]] = {
    "fields": (
        *_SITE, "ARPT_NAME", "FACILITY_USE_CODE", "LAT_DECIMAL", "LONG_DECIMAL", "ELEV", "ARPT_STATUS", "LGT_SKED",
        "BCN_LGT_SKED", "TWR_TYPE_CODE", "ICAO_ID",
    ),
    "ends": (
        *_SITE, "RWY_ID", "RWY_END_ID", "TRUE_ALIGNMENT", "RIGHT_HAND_TRAFFIC_PAT_FLAG", "DISPLACED_THR_LEN",
        "LNDG_DIST_AVBL",
    ),
    "runways": (*_SITE, "RWY_ID", "RWY_LEN", "RWY_WIDTH", "SURFACE_TYPE_CODE", "RWY_LGT_CODE"),
    "remarks": (*_SITE, "REF_COL_NAME", "ELEMENT", "REMARK"),
    "towers": ("EFF_DATE", "SITE_NO", "SITE_TYPE_CODE", "FACILITY_TYPE", "FACILITY_ID", "TWR_HRS"),
    "airspace": ("EFF_DATE", "SITE_NO", "ARPT_ID", "CLASS_B_AIRSPACE", "AIRSPACE_HRS"),
}  # fmt: skip
"""The columns that are read of each table; a file that has them all is that table."""
_LARGEST = 500_000_000
"""Bytes of one table unpacked: the largest has some 30 MB."""


def read_nasr_tables(files: Iterable[tuple[str, bytes]], tally: Tally) -> dict[str, pd.DataFrame]:
    """Return the tables found among named files (plain, gzip or zip) by the names of `TABLES`.

    Raises
    ------
    InputError
        If a file is damaged, a table comes twice with other content, or none of them is among the files.
    """
    found: dict[str, pd.DataFrame] = {}
    for name, data in _unpacked(files):
        lines = lines_of(plain(data, where=name))
        header = set(next(csv.reader(lines[:1]), []))
        kind = next((kind for kind, columns in TABLES.items() if set(columns) <= header), None)
        if kind is None:
            tally.add("noted", "file that is none of the tables read here", [name])
            continue
        if kind in found:
            raise InputError(f"a second table of {kind}", where=name, remedy="give one file of each kind")
        found[kind] = frame_of(lines, kind, TABLES[kind], tally).apply(lambda column: column.str.strip())
    if not {"fields", "runways"} & found.keys():
        raise InputError(
            "there is neither a table of fields (APT_BASE) nor of runways (APT_RWY) among the files",
            remedy="give the FAA's tables of airports as CSV, or the zip that holds them",
        )
    return found


def _unpacked(files: Iterable[tuple[str, bytes]]) -> Iterator[tuple[str, bytes]]:
    for name, data in files:
        if data[:4] != b"PK\x03\x04":
            yield name, data
            continue
        try:
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                for member in archive.infolist():
                    if PurePath(member.filename).suffix.lower() == ".csv" and member.file_size <= _LARGEST:
                        yield f"{name}/{member.filename}", archive.read(member)
        except (zipfile.BadZipFile, OSError, EOFError, NotImplementedError) as exc:
            raise InputError(f"damaged zip: {exc}", where=name, remedy="fetch or copy the file again") from exc
