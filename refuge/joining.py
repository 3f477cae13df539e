"""Which station stands at which airfield, found anew whenever either list changed, and put into the store."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from refuge.airfield import Airfield
from refuge.gazetteer.gazette import Gazette
from refuge.gazetteer.join import join
from refuge.gazetteer.report import ImportReport
from refuge.store.engine import Store, reading
from refuge.store.places import airfield_codes_of, all_airfields, all_stations, replace_airfields, replace_stations


def join_stored(engine: Store, gazette: Gazette | None, *, imported_at: datetime) -> ImportReport:
    """Join airfields to the stored stations, and put in the store what is new or was changed by it.

    ``None`` for the gazette stands for the airfields of the store. Each table is replaced in one
    transaction, stations first: should the second fail, the airfields keep their earlier stations.
    """
    with reading(engine) as conn:
        places, stored, stored_codes = all_stations(conn), all_airfields(conn), airfield_codes_of(conn)
    fields = gazette.airfields if gazette else stored
    codes = (
        gazette.codes if gazette else {id_: stored_codes.get(id_, few) for id_, few in _few_codes(stored).items()}
    )
    # Unknown elevations of the store may be so by an earlier join.
    doubted = frozenset(field.id for field in stored if field.elevation_ft is None)
    joined = join(fields, codes, places, doubted=doubted)
    if joined.stations != places:
        source = "stations of the store, elevations mended"
        replace_stations(engine, joined.stations, source=source, imported_at=imported_at)
    if gazette or joined.airfields != fields:
        source = gazette.report.source if gazette else fields[0].source
        counts = dict(joined.report.kept)
        replace_airfields(
            engine, joined.airfields, source=source, imported_at=imported_at, counts=counts, codes=codes
        )
    return joined.report


def stored_airfields(engine: Store) -> tuple[tuple[Airfield, ...], dict[str, tuple[str, ...]]]:
    """Return the airfields of the store and the codes that each goes or went by."""
    with reading(engine) as conn:
        fields, stored = all_airfields(conn), airfield_codes_of(conn)
    return fields, {id_: stored.get(id_, codes) for id_, codes in _few_codes(fields).items()}


def _few_codes(fields: Sequence[Airfield]) -> Mapping[str, tuple[str, ...]]:
    """Return the codes that the store itself can tell: identifier, K and it in the US, earlier station.

    For stores that were filled before they kept every code: an older code is lost there.
    """
    return {
        field.id: tuple(
            code
            for code in (
                field.id,
                f"K{field.id}" if field.country == "US" and len(field.id) == 3 else "",
                field.station_id,
            )
            if code
        )
        for field in fields
    }
