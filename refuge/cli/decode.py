"""``refuge decode``: what METAR and TAF reports, and blocks of station guidance, say."""

import json
import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from refuge.errors import InputError
from refuge.units import miles
from refuge.weather.category import category
from refuge.weather.conditions import Conditions
from refuge.weather.guidance import Guidance, decode_guidance
from refuge.weather.guidance_hours import GuidanceHour, hours_of
from refuge.weather.guidance_split import parted
from refuge.weather.record import report_record
from refuge.weather.record_guidance import NO_GUIDANCE, guidance_report
from refuge.weather.reports import Forecast, Group, Observation, Unreadable
from refuge.weather.sky import (
    Bound,
    Ceiling,
    CeilingAt,
    KnownVisibility,
    NoCeiling,
    UnknownCeiling,
    Visibility,
)
from refuge.weather.split import begins_report, decode_any, split_reports
from refuge.weather.wind import UnknownWind, Wind
from refuge.zulu import aware_utc, parse_instant

Decoded = Observation | Forecast | Guidance | Unreadable
_STDIN = "standard input"
_LOOK_BYTES = 4096
_BOUND_WORDS = {Bound.EXACTLY: "", Bound.AT_LEAST: "at least ", Bound.LESS_THAN: "less than "}


@click.command(epilog="Example: refuge decode reports.txt --received 2022-10-22T03:00Z --json")
@click.argument("file", default="-", metavar="[FILE]")
@click.option("--received", metavar="T", help="When the text was received; default the file's time, or now.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON array, an object for each report.")
def decode(file: str, received: str | None, as_json: bool) -> None:
    """Say what the METAR, SPECI and TAF reports in FILE (or standard input) mean, and station guidance.

    Guidance is LAMP (LAV, LEV) and the National Blend of Models (NBH, NBS), hour by hour.
    Days and times inside the reports are taken nearest to when they were received. What could not
    be read is named, and counts as unknown. Exit 2 if the text holds no report at all.
    """
    text, file_time = _read(file)
    received_at = file_time if received is None else parse_instant(received)
    decoded = _decoded(text, received_at)
    if as_json:
        records = [
            guidance_report(value) if isinstance(value, Guidance) else report_record(value) | NO_GUIDANCE
            for value in decoded
        ]
        click.echo(json.dumps(records, indent=2, ensure_ascii=False, allow_nan=False))
    elif decoded:
        click.echo("\n\n".join(_in_words(value) for value in decoded))
    if all(isinstance(value, Unreadable) and not begins_report(value.raw) for value in decoded):
        raise InputError(
            "no report found", where=_STDIN if file == "-" else file,
            remedy="a report begins with a station and day, hour and minute, such as KXYZ 101553Z",
        )  # fmt: skip


def _decoded(text: str, received_at: datetime) -> list[Decoded]:
    found: list[Decoded] = []
    for is_block, piece in parted(text):
        if is_block:
            found.append(decode_guidance(piece, received_at=received_at))
        else:
            found += [decode_any(raw, received_at=received_at) for raw in split_reports(piece)]
    return found


def _read(file: str) -> tuple[str, datetime]:
    """Return the text and the time of its receipt: the file's time, or now for standard input."""
    if file == "-":
        return _text_of(sys.stdin.buffer.read(), _STDIN), datetime.now(UTC)
    path = Path(file)
    try:
        data = path.read_bytes()
        changed_at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    except OSError as exc:
        raise InputError(
            f"cannot be read: {exc.strerror or exc}", where=file, remedy="name a text file, or - for stdin"
        ) from exc
    return _text_of(data, file), aware_utc(changed_at)


def _text_of(data: bytes, where: str) -> str:
    """Return the text of a file; what is none would only be sprayed over the terminal."""
    if b"\x00" in data[:_LOOK_BYTES]:
        raise InputError("is no text file", where=where, remedy="name a file of reports")
    return data.decode("utf-8", errors="replace")


def _in_words(value: Decoded) -> str:
    match value:
        case Guidance():
            return "\n".join(_guidance_lines(value))
        case Observation():
            return "\n".join(_observation_lines(value))
        case Forecast():
            return "\n".join(_forecast_lines(value))
        case Unreadable():
            return f"{value.station or '????'}  NOT READ: {value.error}\n  {_one_line(value.raw)}"


def _observation_lines(value: Observation) -> list[str]:
    title = f"{value.station}  {value.kind} {_instant(value.observed_at)}"
    marks = [word for word, on in (("AUTO", value.auto), ("corrected", value.corrected)) if on]
    if value.nil:
        return [f"{title}  NIL: no report was made"]
    lines = ["  ".join([title, *marks, _category(value.adverse)])]
    if value.adverse == value.body:
        lines.append(f"  {_conditions(value.body)}")
    else:
        lines.append(f"  reported {_category(value.body)}: {_conditions(value.body)}")
        lines.append(f"  at worst {_category(value.adverse)}: {_conditions(value.adverse)}")
    lines += [f"  trend {_group(group)}" for group in value.trend]
    if value.nosig:
        lines.append("  no significant change expected for two hours")
    if value.unread:
        lines.append(f"  not read: {' '.join(value.unread)[:200]}")
    lines += [f"  disputed {d.element}: {d.ours} here, {d.theirs} by the second opinion" for d in value.disputed]
    return lines


def _forecast_lines(value: Forecast) -> list[str]:
    title = f"{value.station}  TAF issued {_instant(value.issued_at)}"
    if value.valid_from is not None and value.valid_to is not None:
        title += f", valid {_instant(value.valid_from)} to {_instant(value.valid_to)}"
    marks = (("amended", value.amended), ("corrected", value.corrected), ("CANCELLED", value.cancelled))
    title = "  ".join([title, *(word for word, on in marks if on)])
    if value.nil:
        return [f"{title}  NIL: no forecast was made"]
    lines = [title, *(f"  {_group(group)}" for group in value.groups)]
    if value.not_scheduled:
        lines.append("  amendments are not scheduled")
    return lines


def _guidance_lines(value: Guidance) -> list[str]:
    version = f" V{value.version}" if value.version else ""
    lines = [f"{value.station}  {value.product}{version} of {_instant(value.based_on)}"]
    lines += [f"  {_hour(hour)}" for hour in hours_of(value)]
    if value.unread:
        lines.append(f"  not read: {', '.join(value.unread)[:200]}")
    return lines


def _hour(hour: GuidanceHour) -> str:
    ceiling, visibility, wind = _ceiling(hour.ceiling), _visibility(hour.visibility), _wind(hour.wind)
    parts = [f"ceiling {ceiling}, visibility {visibility}, wind {wind}"]
    if hour.weather:
        parts.append(f"weather {' '.join(hour.weather)}")
    if hour.ceiling_if_wet is not None and hour.visibility_if_wet is not None:
        wet = "unknown chance" if hour.wet_percent is None else f"{hour.wet_percent}%"
        parts.append(
            f"if it precipitates ({wet}) ceiling {_ceiling(hour.ceiling_if_wet)},"
            f" visibility {_visibility(hour.visibility_if_wet)}"
        )
    parts += [f"{percent}% of a ceiling below {limit:,.0f} ft" for limit, percent in hour.ceiling_chances]
    parts += [f"{percent}% of a visibility below {miles(limit)} SM" for limit, percent in hour.visibility_chances]
    return f"{_instant(hour.at)} {category(hour.ceiling, hour.visibility).value}: {', '.join(parts)}"


def _group(group: Group) -> str:
    parts = []
    if group.visibility is not None:
        parts.append(f"visibility {_visibility(group.visibility)}")
    if group.ceiling is not None:
        parts.append(f"ceiling {_ceiling(group.ceiling)}")
    if group.wind is not None:
        parts.append(f"wind {_wind(group.wind)}")
    if group.weather is not None:
        parts.append(f"weather {' '.join(group.weather) or 'ends'}")
    if group.unread:
        parts.append(f"NOT READ {' '.join(group.unread)[:100]}")
    chance = "" if group.probability is None else f" {group.probability}%"
    period = f"{_instant(group.start)} to {_instant(group.end)}"
    return f"{group.kind}{chance} {period}: {', '.join(parts) or 'nothing mentioned'}"


def _category(conditions: Conditions) -> str:
    return category(conditions.ceiling, conditions.visibility).value


def _conditions(conditions: Conditions) -> str:
    parts = [
        f"ceiling {_ceiling(conditions.ceiling)}",
        f"visibility {_visibility(conditions.visibility)}",
        f"wind {_wind(conditions.wind)}",
    ]
    if conditions.weather:
        parts.append(f"weather {' '.join(conditions.weather)}")
    return ", ".join(parts)


def _ceiling(ceiling: Ceiling) -> str:
    match ceiling:
        case CeilingAt(ft_agl=ft):
            return f"{ft:,} ft"
        case NoCeiling(none_below_ft=None, evidence=evidence):
            return f"none ({evidence})"
        case NoCeiling(none_below_ft=below_ft, evidence=evidence):
            return f"none below {below_ft:,} ft ({evidence})"
        case UnknownCeiling(reason=reason, at_best_ft_agl=best_ft):
            at_best = "" if best_ft is None else f", {best_ft:,} ft at best"
            return f"unknown ({reason}{at_best})"


def _visibility(visibility: Visibility) -> str:
    if isinstance(visibility, KnownVisibility):
        return f"{_BOUND_WORDS[visibility.bound]}{miles(visibility.sm)} SM"
    at_best = "" if visibility.at_best_sm is None else f", {miles(visibility.at_best_sm)} SM at best"
    return f"unknown ({visibility.reason}{at_best})"


def _wind(wind: Wind) -> str:
    if isinstance(wind, UnknownWind):
        return f"unknown ({wind.reason})"
    if wind.speed_kt == 0 and not wind.gust_kt:
        return "calm"
    direction = "variable" if wind.dir_deg_true is None else f"{wind.dir_deg_true:03d}"
    gust = "" if wind.gust_kt is None else f" gusting {wind.gust_kt:.0f}"
    return f"{direction}/{wind.speed_kt:.0f} kt{gust}"


def _instant(instant: datetime) -> str:
    return instant.strftime("%Y-%m-%d %H:%MZ")


def _one_line(raw: str) -> str:
    text = "".join(letter if letter.isprintable() else "?" for letter in " ".join(raw.split()))
    return text if len(text) <= 100 else f"{text[:100]}..."
