"""refuge work: collect by the clock, until stopped."""

import os
import select
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import click

from refuge.cli.options import store_option
from refuge.errors import FeedError, InputError
from refuge.zulu import parse_instant


@click.command(epilog="Example: refuge work --store postgresql://refuge@db/refuge --contact ops@example.org")
@store_option
@click.option(
    "--feeds", metavar="A,B",
    help="Only these, comma between them: stations, metar, taf, winds (all four if not given); and guidance,"
    " or lav, lev, nbh, nbs of it, which is only collected where it is named: tens of megabytes an hour.",
)  # fmt: skip
@click.option(
    "--brief", envvar="REFUGE_BRIEF", type=click.Path(path_type=Path), metavar="ROSTER.csv",
    help="Make the brief of this roster each day, as refuge brief does; needs the three that follow.",
)  # fmt: skip
@click.option(
    "--brief-at", envvar="REFUGE_BRIEF_AT", multiple=True, metavar="HH:MM",
    help="When, local time; repeat for more.",
)  # fmt: skip
@click.option(
    "--brief-zone", envvar="REFUGE_BRIEF_ZONE", metavar="ZONE", help="Whose local time, such as Europe/Berlin."
)
@click.option(
    "--brief-to", envvar="REFUGE_BRIEF_TO", type=click.Path(path_type=Path), metavar="FOLDER",
    help="Where to: brief.txt and brief.json, and one of each day.",
)  # fmt: skip
@click.option("--base-url", envvar="REFUGE_BASE_URL", metavar="URL", help="Another address of the service.")
@click.option("--guidance-url", envvar="REFUGE_GUIDANCE_URL", metavar="URL", help="The same for guidance.")
@click.option("--contact", envvar="REFUGE_CONTACT", default="", help="Your address, for the service's operator.")
@click.option("--once", is_flag=True, help="Run every feed once, then the brief, and end; exit 4 if one fails.")
@click.option("--now", "now_text", metavar="T", help="With --once: the receipt to stamp, for replays.")
@click.option("--verbose", is_flag=True, help="Log more.")
def work(
    *,
    store: str | None,
    feeds: str | None,
    brief: Path | None,
    brief_at: tuple[str, ...],
    brief_zone: str | None,
    brief_to: Path | None,
    base_url: str | None,
    guidance_url: str | None,
    contact: str,
    once: bool,
    now_text: str | None,
    verbose: bool,
) -> None:
    """Fetch reports, forecasts, winds and stations into the store by the clock, until stopped.

    Of several workers on one store one leads and the others wait; when it ends, however it ends, another
    takes over within seconds. SIGTERM or SIGINT lets what is running finish; a second one does not.
    What was done is in `refuge status`; the log goes to stderr.

    A brief is made once a day for each --brief-at, by the worker that leads: a time that the clocks leave out
    when they are set forward comes as much later, of one that comes twice the first counts. It is made up to 3
    hours late after a stop. One that cannot be made says so in brief.txt and brief.json, and is tried twice more.
    """
    from refuge.store.opening import opened_store
    from refuge.worker.due import brief_plan
    from refuge.worker.lead import work as work_on
    from refuge.worker.lead import work_once, worker_name
    from refuge.worker.logs import logging_to_stderr
    from refuge.worker.plan import planned
    from refuge.worker.run import Job

    if now_text and not once:
        raise InputError("a receipt is only stamped on one run", where="--now", remedy="give --once too")
    plan, now = planned(feeds), parse_instant(now_text) if now_text else None
    briefs = brief_plan(brief, brief_at, brief_zone, brief_to, store=store)
    with logging_to_stderr(verbose=verbose), opened_store(store) as engine, _noting_signals() as wait:
        job = Job(
            engine=engine, worker=worker_name(), wait=wait, base_url=base_url, guidance_url=guidance_url,
            contact=contact,
        )  # fmt: skip
        if not once:
            work_on(job, plan, briefs)
            return
        outcomes = work_once(job, plan, briefs, now=now)
    failed = [name for name, outcome in outcomes.items() if outcome in ("failed", "partial")]
    if failed:
        raise FeedError(f"{', '.join(failed)} failed, wholly or in part", remedy="see refuge status")


@contextmanager
def _noting_signals() -> Iterator[Callable[[float], bool]]:
    """Give a function that waits for so many seconds, or until told to stop, and returns whether it was.

    The first signal is only noted, in a pipe, which any thread can watch; the second ends the process.
    """
    told, tell = os.pipe()

    def note(number: int, _frame: FrameType | None) -> None:
        os.write(tell, b".")
        signal.signal(number, signal.SIG_DFL)

    def wait(seconds: float) -> bool:
        return bool(select.select([told], [], [], seconds)[0])

    before = {number: signal.signal(number, note) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield wait
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        os.close(told)
        os.close(tell)
