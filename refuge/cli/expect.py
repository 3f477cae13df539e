"""`refuge expect`: conditions to expect at a station over a window, from forecasts alone."""

from collections.abc import Collection, Sequence
from datetime import UTC, datetime

import click

from refuge.errors import InputError, MissingDataError, similar
from refuge.options import read_as, window
from refuge.weather.reports import Forecast
from refuge.zulu import parse_instant


@click.command(
    no_args_is_help=True,
    epilog="Example: refuge expect XORR --from 2026-03-10T15:00Z --to 2026-03-10T16:00Z"
    " --store refuge-demo.sqlite --now 2026-03-10T15:00Z",
)
@click.argument("station")
@click.option(
    "--from", "from_text", required=True, metavar="T", help="Start of the window, such as 2026-10-10T20:00Z."
)
@click.option(
    "--to", "to_text", required=True, metavar="T", help="End of the window; the start again for an instant."
)
@click.option(
    "--bulletins",
    "files",
    multiple=True,
    metavar="FILE",
    help="Answer from this file, not the store; repeat for more.",
)
@click.option(
    "--received",
    "received_text",
    metavar="T",
    help="Receipt of the files' bulletins; else --now, else the file's time.",
)
@click.option("--now", "now_text", metavar="T", help="Ask as of this time: nothing received later is used.")
@click.option(
    "--store", "store_text", envvar="REFUGE_STORE", metavar="URL", help="Where the store is: a URL or a file."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def expect(
    *,
    station: str,
    from_text: str,
    to_text: str,
    files: tuple[str, ...],
    received_text: str | None,
    now_text: str | None,
    store_text: str | None,
    as_json: bool,
) -> None:
    """Conditions to expect at STATION over a window, from forecasts alone.

    Prevailing is the worst of what the forecast says will hold in the window; adverse takes TEMPO,
    PROB, INTER and running changes besides. A part of the window without forecast is unknown.
    """
    from refuge.render.expect import expect_lines, expect_text
    from refuge.weather.expected import expected

    if received_text and not files:
        raise InputError(
            "it is the receipt of bulletins in files", where="--received", remedy="give --bulletins too"
        )
    start, end = window(from_text, to_text)
    asked_now = read_as("--now", parse_instant, now_text) if now_text else None
    received = read_as("--received", parse_instant, received_text) if received_text else asked_now
    now = asked_now or datetime.now(UTC)
    station = station.strip().upper()
    if files:
        forecasts, known = _from_files(files, station, received=received, now=now)
    else:
        forecasts, known = _from_store(store_text, station, now)
    found = expected(forecasts, station, start, end)
    if as_json:
        click.echo(expect_lines(found), nl=False)
    else:
        click.echo(expect_text(found), nl=False)
    if not forecasts:
        raise MissingDataError(
            f"no forecast of {station} was received by {now:%Y-%m-%dT%H:%MZ}{similar(station, known)}",
            where=", ".join(files) or None,
            remedy=_remedy(known, "these files" if files else "the store"),
        )


def _from_store(store: str | None, station: str, now: datetime) -> tuple[Sequence[Forecast], Collection[str]]:
    """Return the station's forecasts that the store knew; where there is none, the stations that have some."""
    from refuge.ask import forecast_stations, forecasts_of

    forecasts = forecasts_of(store, station, now)
    return forecasts, () if forecasts else forecast_stations(store, now)


def _remedy(known: Collection[str], where: str) -> str:
    """Return what to do where there is no forecast of a station."""
    if not known:
        return f"{where} had no forecast at all by then: refuge collect taf, or name a file with --bulletins"
    count = "one station" if len(known) == 1 else f"{len(known):,} stations"
    return (
        f"{where} had forecasts of {count}, not of this one: most stations have none; ask for one near, or for an"
        " airfield with refuge find"
    )


def _from_files(
    files: Sequence[str], station: str, *, received: datetime | None, now: datetime
) -> tuple[Sequence[Forecast], Collection[str]]:
    """Return the station's forecasts in files that were received by `now`, in order, and all stations of them."""
    from pathlib import Path

    from refuge.feeds.folder import file_feed
    from refuge.weather.bulletin import Kind
    from refuge.weather.expected import as_missing
    from refuge.weather.reports import Unreadable
    from refuge.weather.split import is_forecast
    from refuge.weather.taf import decode_forecast

    found: list[tuple[datetime, Forecast]] = []
    known: set[str] = set()
    for name in files:
        for bulletin in file_feed(Path(name), now=now, received_at=received).everything.bulletins:
            if bulletin.received_at > now or not (bulletin.kind is Kind.TAF or is_forecast(bulletin.raw)):
                continue
            read = decode_forecast(bulletin.raw, received_at=bulletin.received_at)
            if isinstance(read, Unreadable) and read.station in {None, station}:
                click.echo(f"note: {name}: {read.error}: {bulletin.raw[:60]!r}", err=True)
            forecast = as_missing(read, received_at=bulletin.received_at) if isinstance(read, Unreadable) else read
            if forecast is not None:
                known.add(forecast.station)
            if forecast is not None and forecast.station == station:
                found.append((bulletin.received_at, forecast))
    return [forecast for _, forecast in sorted(found, key=lambda pair: pair[0])], known
