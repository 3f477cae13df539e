"""`refuge demo`: the invented country, loaded into a store of its own, and a guided answer."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from refuge.zulu import parse_instant

if TYPE_CHECKING:
    from refuge.flight.entries import Entry
    from refuge.flight.shortlist import Shortlist

NOW = "2026-03-10T15:00Z"
AT = "44.0,-38.0"
AIRCRAFT, MINIMUMS = "XA-GLASS", "XS-SCHOOL"
ALTITUDE_FT, LOWEST_SAFE_FT = 6000.0, 2200.0
RECEIPTS = {"1200Z.txt": "2026-03-10T12:00Z", "winds.txt": "2026-03-10T13:40Z", "1455Z.txt": "2026-03-10T14:55Z"}
"""When each file of the demo was received, in order."""

STORY = (
    ("XORR", "The nearest, and good right now: but its forecast turns to fog about when one would arrive."),
    ("XTES", "Clear skies and a good forecast, dead into the wind."),
    ("XSIL", "Farther than Tesk Valley in miles, with the wind: reached in time, and the weather holds."),
    ("XV07", "No station of its own: its weather is borrowed from those around."),
    ("XCOR", "Good, with an hour of rain and low cloud forecast at times: at times counts as if it came true."),
    ("XBRI", "Its automatic station has no ceiling sensor: a ceiling that nobody reports is unknown, not good."),
    ("XASH", "It reported at noon, and is silent since: a silent station is unknown, not absent."),
)
"""What to look at in the answer, by airfield; the verdicts are printed from the answer itself."""


NIGHT_NOW = "2026-03-10T22:00Z"
NIGHT_RECEIPTS = {
    "night-2000Z.txt": "2026-03-10T20:00Z",
    "night-winds.txt": "2026-03-10T20:40Z",
    "night-2155Z.txt": "2026-03-10T21:55Z",
}
NIGHT_STORY = (
    ("XSIL", "Lit: its lights burn from dusk to dawn, and its tower, open until ten, can show a light."),
    (
        "XLUM",
        "The same weather, and a radio turns its lights on: dark for one who has none. With --handheld it meets.",
    ),
    ("XV07", "The same weather, and no lights at all: dark, with a handheld too."),
    ("XCOR", "Near, clear, and lit only until half past eight: the lights go out just before one could land."),
    ("XASH", "Lit, and silent since noon: a runway that can be seen is no use in weather that nobody knows."),
)
"""The same for the night."""


@click.command(epilog="Example: refuge demo --keep refuge-demo.sqlite")
@click.option(
    "--keep", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
    help="Keep the demo's store in this file, to try commands on.",
)  # fmt: skip
@click.option("--night", is_flag=True, help="The same country by night: a lit field, a radio-lit and a dark one.")
def demo(*, keep: Path | None, night: bool) -> None:
    """Guide through one answer in an invented country: a failure in cloud, and where to go.

    Loads airfields, reports, forecasts and winds that are all invented into a temporary store, asks where to
    go, and tells what to look at.
    """
    from refuge.errors import InputError
    from refuge.wiring import DEMO_STORE

    if keep is not None and keep.exists():
        raise InputError(f"{keep} is there already", where="--keep", remedy="remove it, or name another file")
    with _folder() as folder:
        store = keep or folder / f"{DEMO_STORE}.sqlite"
        click.echo(f"loading the invented country of Velmark into {store}", err=True)
        load(str(store), night=night)
        shortlist = ask(str(store), night=night)
    for line in guided(shortlist, str(store) if keep else None, night=night):
        click.echo(line)


@contextmanager
def _folder() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="refuge-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def load(store: str, *, night: bool = False) -> None:
    """Fill a store with the invented country: places, aircraft and minimums, bulletins as they were received."""
    from refuge.feeds.folder import read_file
    from refuge.files.places import load_places
    from refuge.ingest import ingest
    from refuge.packaged import packaged
    from refuge.store.documents import put_document
    from refuge.store.engine import writing
    from refuge.store.opening import opened_store
    from refuge.store.places import replace_airfields, replace_stations

    folder = packaged("demo")
    airfields, stations = load_places(folder / "places.toml")
    with opened_store(store) as engine:
        replace_stations(engine, stations, source="demo", imported_at=parse_instant(NOW))
        replace_airfields(engine, airfields, source="demo", imported_at=parse_instant(NOW))
        with writing(engine) as conn:
            for kind in ("aircraft", "minimums"):
                for path in sorted((folder / kind).glob("*.toml")):
                    text = path.read_text(encoding="utf-8")
                    put_document(conn, kind, path.stem, text, stored_at=parse_instant(NOW))
        for name, text in (RECEIPTS | (NIGHT_RECEIPTS if night else {})).items():
            received = parse_instant(text)
            read = read_file(folder / "bulletins" / name, received_at=received)
            ingest(engine, read.bulletins, now=received)


def ask(store: str, *, night: bool = False) -> "Shortlist":
    """Return the answer to the demo's question."""
    from refuge.cli.find import Asked, shortlist_of

    now = NIGHT_NOW if night else NOW
    return shortlist_of(
        Asked(
            at=AT, aircraft=AIRCRAFT, minimums=MINIMUMS, altitude=ALTITUDE_FT, lowest_safe=LOWEST_SAFE_FT, now=now,
            store=store, torch=night,
        ),
        parse_instant(now),
    )  # fmt: skip


def guided(shortlist: "Shortlist", kept: str | None, *, night: bool = False) -> Iterator[str]:
    """Yield the guided answer line by line: the question, the table, and what to look at."""
    from refuge.flight.entries import entries
    from refuge.render.find_text import SIGNS, find_text

    yield from _opening(night=night)
    yield ""
    yield find_text(shortlist).rstrip("\n")
    yield ""
    yield "What to look at:"
    by_id: dict[str, Entry] = {found.airfield.id: found for found in entries(shortlist)}
    for airfield_id, text in NIGHT_STORY if night else STORY:
        found = by_id[airfield_id]
        yield f"  {SIGNS[found.verdict]} {found.verdict:<8} {airfield_id} {found.airfield.name}: {text}"
    yield ""
    yield from _more(kept, night=night)


def _opening(*, night: bool) -> Iterator[str]:
    where = "An invented flight: in cloud at 6,000 ft over the invented country of Velmark, 10 March,"
    if night:
        yield f"{where} ten in the"
        yield "evening UTC, after dark. The alternator fails. No radio, no lights, no navigation soon; a compass, a"
        yield "clock, a torch to read the instruments by, and this list, made before departure:"
    else:
        yield f"{where} three in the"
        yield "afternoon UTC. The alternator fails. No radio, no navigation soon; a compass, a clock, and this"
        yield "list, made before departure:"


def _more(kept: str | None, *, night: bool) -> Iterator[str]:
    now = NIGHT_NOW if night else NOW
    options = (
        f"--at={AT} --aircraft {AIRCRAFT} --minimums {MINIMUMS} --altitude 6000 --lowest-safe 2200 --now {now}"
    ) + (" --torch" if night else "")
    if kept is None:
        with_night = " --night" if night else ""
        yield f"Keep this country to try more: refuge demo{with_night} --keep refuge-demo.sqlite, then"
    else:
        yield "The store is kept; try"
    name = kept or "refuge-demo.sqlite"
    yield f"  refuge find --store {name} \\"
    yield f"    {options} --explain {'XLUM' if night else 'XCOR'}"
    if night:
        yield f"  the same with --handheld, and: refuge airfield XCOR --store {name}"
    else:
        yield f"  refuge expect XORR --store {name} --now {now} --from 2026-03-10T15:00Z --to 2026-03-10T16:00Z"
