"""Winds aloft as plain values that JSON can hold, and back, losing nothing."""

from typing import TypedDict

from refuge.weather.reports import Level, Levels, LevelsAt
from refuge.zulu import iso, parse_instant

LevelRecord = tuple[int, int | None, int, bool, int | None]
"""The fields of `Level`, in their order."""


class LevelsRecord(TypedDict):
    """The fields of `Levels`: instants as ISO 8601, sites as pairs of name and levels."""

    raw: str
    product: str
    based_on: str
    valid_at: str
    use_from: str
    use_to: str
    sites: list[tuple[str, list[LevelRecord]]]
    unread: list[str]


def levels_record(value: Levels) -> LevelsRecord:
    """Return the bulletin as plain values."""
    return {
        "raw": value.raw,
        "product": value.product,
        "based_on": iso(value.based_on),
        "valid_at": iso(value.valid_at),
        "use_from": iso(value.use_from),
        "use_to": iso(value.use_to),
        "sites": [(at.site, [_level_record(level) for level in at.levels]) for at in value.sites],
        "unread": list(value.unread),
    }


def levels_from_record(record: LevelsRecord) -> Levels:
    """Return the bulletin that `levels_record` was given."""
    return Levels(
        raw=record["raw"],
        product=record["product"],
        based_on=parse_instant(record["based_on"]),
        valid_at=parse_instant(record["valid_at"]),
        use_from=parse_instant(record["use_from"]),
        use_to=parse_instant(record["use_to"]),
        sites=tuple(
            LevelsAt(site=site, levels=tuple(_level(level) for level in levels)) for site, levels in record["sites"]
        ),
        unread=tuple(record["unread"]),
    )


def _level_record(level: Level) -> LevelRecord:
    return (level.altitude_ft, level.dir_deg_true, level.speed_kt, level.at_least, level.temperature_c)


def _level(record: LevelRecord) -> Level:
    altitude_ft, dir_deg_true, speed_kt, at_least, temperature_c = record
    return Level(
        altitude_ft=altitude_ft,
        dir_deg_true=dir_deg_true,
        speed_kt=speed_kt,
        at_least=at_least,
        temperature_c=temperature_c,
    )
