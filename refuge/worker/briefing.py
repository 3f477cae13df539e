"""One brief: the roster read, the flights worked out, the files put in place, and the run noted.

A file is replaced as a whole. `brief.txt` and `brief.json` are of the last brief that was due, made or not:
one that could not be made says so there. `brief-<day>` keeps the last of each day that was made.
"""

import logging
import os
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from refuge.brief import BrokenOffError, brief_in_store
from refuge.errors import InputError, MissingDataError, RefugeError
from refuge.files.roster import load_roster
from refuge.flight.briefing import Brief
from refuge.render.brief_file import Slip, failed_json, failed_text, made_json, made_text
from refuge.render.find_json import json_line
from refuge.store.engine import Store, reading
from refuge.store.runs import GOOD, Outcome, Tally, last_runs, tries_since
from refuge.worker.due import GRACE, MOST_TRIES, BriefPlan
from refuge.worker.logs import LOG, said
from refuge.worker.run import Attempted, Job, noted

BRIEF = "brief"
"""As which its runs are noted."""
CATCHES_UP_AFTER = timedelta(minutes=2)
"""A brief that was missed waits so long at the start, for the reports that are fetched first."""
TRIES_AGAIN_AFTER = timedelta(minutes=10)
"""A roster may be away while somebody saves it."""
_MADE = (*GOOD, Outcome.PARTIAL)


def run_brief(job: Job, plan: BriefPlan, *, now: datetime | None = None, by_the_clock: bool = True) -> Outcome:
    """Make the brief and keep the log of it; return how it ended. Never raises but for a stop.

    `now` is as of when, for replays; without it, the time at which the run begins. ``by_the_clock`` is
    the one that was due last.
    """
    began: list[Slip] = []

    def attempt(at: datetime) -> Attempted:
        began.append(_slip(plan, at, by_the_clock=by_the_clock))
        return _attempt(job, plan, began[0])

    outcome = noted(job, BRIEF, attempt, now=now)
    if not began and not job.wait(0):
        slip = _slip(plan, now or datetime.now(UTC), by_the_clock=by_the_clock)
        _failed(plan.folder, "the store took no note of the run; see the worker's log", slip)
    return outcome


def _slip(plan: BriefPlan, at: datetime, *, by_the_clock: bool) -> Slip:
    due = plan.last_due(at) if by_the_clock else None
    return Slip(roster=str(plan.roster), zone=plan.zone, made_at=at, due=due, next_due=plan.next_due(at))


def first_brief(engine: Store, plan: BriefPlan, *, now: datetime) -> datetime | None:
    """Return when to catch up on the brief that was due last; ``None`` if there is nothing to catch up on.

    One that is too late to be made is caught up on too: it then says that it was missed.
    """
    due = plan.last_due(now)
    with reading(engine) as conn:
        made, last = last_runs(conn, outcomes=_MADE).get(BRIEF), last_runs(conn).get(BRIEF)
    if made is not None and made.started_at >= due:
        return None
    if now - due > GRACE and (last is None or last.started_at >= due):
        return None  # nobody asked for it then, or it is noted already
    return now + CATCHES_UP_AFTER


def next_try(engine: Store, plan: BriefPlan, *, now: datetime) -> datetime | None:
    """Return when to try again, after a brief failed; ``None`` if it was tried often enough, or it is too late."""
    due, again = plan.last_due(now), now + TRIES_AGAIN_AFTER
    with reading(engine) as conn:
        tries = tries_since(conn, BRIEF, due)
    return again if tries < MOST_TRIES and again - due <= GRACE and again < plan.next_due(now) else None


def _attempt(job: Job, plan: BriefPlan, slip: Slip) -> Attempted:
    """Return how it ended; a brief that fails is said in its place, but for a stop: the next to lead makes it."""
    try:
        found = _made(job, plan, slip)
        text, body = made_text(found, slip), json_line(made_json(found, slip))
        _write(plan.folder, {f"brief-{slip.day}": (text, body), "brief": (text, body)})
    except BrokenOffError as exc:
        return Outcome.FAILED, None, str(exc)
    except RefugeError as exc:
        return Outcome.FAILED, None, _failed(plan.folder, str(exc), slip)
    except Exception as exc:  # noqa: BLE001 - whatever it was: yesterday's brief must not stand for today's
        LOG.exception("run broke", extra={"values": {"feed": BRIEF}})
        return Outcome.FAILED, None, _failed(plan.folder, f"a fault of refuge: {type(exc).__name__}: {exc}", slip)
    return _outcome(found)


def _made(job: Job, plan: BriefPlan, slip: Slip) -> Brief:
    """Return the brief, unless it is too late for it, or somebody says stop."""
    if (missed := _missed(job.engine, slip)) is not None:
        raise MissingDataError(missed)
    rows = load_roster(plan.roster)
    found = brief_in_store(rows, job.engine, plan.store, now=slip.made_at, go_on=lambda: not job.wait(0))
    if job.wait(0):
        raise BrokenOffError("told to stop before the brief was written")
    return found


def _missed(engine: Store, slip: Slip) -> str | None:
    """Return why a brief is not made any more, if it is not."""
    if slip.due is None:
        return None
    if slip.made_at - slip.due > GRACE:
        return f"no worker was at work when it was due, nor in the {GRACE // timedelta(hours=1)} hours after that"
    with reading(engine) as conn:
        tries = tries_since(conn, BRIEF, slip.due)
    return f"it was tried {MOST_TRIES} times, and failed; see the worker's log" if tries > MOST_TRIES else None


def _outcome(found: Brief) -> Attempted:
    bad = [row for row in found.bad if not row.past]
    tally = Tally(fetched=len(found.lines) + len(found.bad), new=len(found.lines), refused=len(bad))
    troubles = list(found.warnings)
    if bad:
        lines = list(dict.fromkeys(str(row.line) for row in bad))
        troubles.append(
            f"of the roster line{'s' * (len(lines) > 1)} {', '.join(lines)} cannot be used, wholly or in part"
        )
    return (Outcome.PARTIAL, tally, "; ".join(troubles)) if troubles else (Outcome.OK, tally, None)


def _failed(folder: Path, reason: str, slip: Slip) -> str:
    """Put into the place of the brief that there is none; return why, and why not even that, if so."""
    try:
        _write(folder, {"brief": (failed_text(reason, slip), json_line(failed_json(reason, slip)))})
    except InputError as exc:
        said(logging.ERROR, "an old brief stands", folder=folder, error=exc)
        return reason if str(exc) == reason else f"{reason}; and the old one stands: {exc}"
    return reason


def _write(folder: Path, files: dict[str, tuple[str, str]]) -> None:
    for name, (text, body) in files.items():
        replace_file(folder / f"{name}.txt", text)
        replace_file(folder / f"{name}.json", body)


def replace_file(path: Path, text: str) -> None:
    """Put a text into the place of a file: who reads it sees the whole of the old one, or of the new one.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with aside.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(path)
    except OSError as exc:
        with suppress(OSError):
            aside.unlink(missing_ok=True)
        raise InputError(
            f"cannot be written: {exc.strerror}", where=str(path), remedy="check the folder and its disk"
        ) from exc
