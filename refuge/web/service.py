"""The world that answers come from, the answers kept ready, and their change from one cycle to the next.

One `State` is all that a request sees. A newer one is made aside, with everything that is polled
worked out already, and then put in its place by one assignment: nobody waits, nobody sees a half.
"""

import asyncio
import gc
import logging
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial

from refuge.errors import MissingDataError, RefugeError, StoreError
from refuge.status import Status, status_of
from refuge.store.engine import Store, reading
from refuge.store.version import DataVersion, data_version
from refuge.web.meters import Meters
from refuge.web.ready import Made, Ready, make_ready
from refuge.wiring import Parties, parties_by_id
from refuge.world import World, read_world

MOST_KEPT, MOST_KEPT_BYTES = 1024, 256 * 1024 * 1024
"""Answers kept ready at most; the one that was not asked for longest goes."""
POLLED_WITHIN_S = 180.0
"""What was asked no longer ago is worked out anew with each new world, the last asked first."""
POLLED_TAKE_S = 10.0
"""For no longer than this, since the new world waits for it; the rest is worked out when it is asked again."""
MOST_IN_WORK = 64
"""Questions in work at most: beyond this a request is refused rather than kept waiting."""
MOST_LONG_IN_WORK = 4
"""Questions of whole flights in work at most: they have one thread, so that no other question waits for them."""
WORLD_LASTS = timedelta(minutes=5)
"""After this without a look at the store nothing is answered: an old world improves no answer."""
SETTLES_WITHIN_S = 10.0
"""A cycle lands in parts: it is read once a second went by without another part, or after this."""

log = logging.getLogger("refuge.web")


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A world, the aircraft and minimums that its questions may name, and how the store is kept."""

    world: World
    parties: Parties
    status: Status


Make = Callable[[Held], Made]
Key = tuple[bytes, bytes, bool]
"""Path and query as sent, and whether GeoJSON is preferred."""


@dataclass(slots=True)
class Kept:
    """An answer kept ready, how to make it anew, and when it was last asked (monotonic seconds).

    One that is ``long`` to make is not made anew with each new world, which would wait for it.
    """

    ready: Ready
    make: Make
    asked_s: float
    long: bool = False


@dataclass(slots=True)
class State:
    """A world and its answers. ``good_until_s`` is on the monotonic clock."""

    held: Held
    good_until_s: float
    answers: dict[Key, Kept] = field(default_factory=dict)
    pending: dict[Key, asyncio.Future[Ready]] = field(default_factory=dict)
    size_bytes: int = 0

    def keep(self, key: Key, kept: Kept) -> None:
        """Keep an answer, and let go of others where there are too many."""
        self.answers[key] = kept
        self.size_bytes += kept.ready.size_bytes
        while len(self.answers) > 1 and (len(self.answers) > MOST_KEPT or self.size_bytes > MOST_KEPT_BYTES):
            oldest = min(self.answers, key=lambda name: self.answers[name].asked_s)
            self.size_bytes -= self.answers.pop(oldest).ready.size_bytes


class BusyError(RefugeError):
    """Too many questions are in work."""


class Service:
    """Answers from the newest world; `look` and `refresh` make a newer one, in another thread."""

    def __init__(self, engine: Store, store: str | None, *, meters: Meters, moving: bool = True) -> None:
        self.engine, self.store, self.meters, self.moving = engine, store, meters, moving
        self.state: State | None = None
        self.workers = ThreadPoolExecutor(max_workers=2, thread_name_prefix="answer")
        self.long_workers = ThreadPoolExecutor(max_workers=1, thread_name_prefix="flight")
        self.reader = ThreadPoolExecutor(max_workers=1, thread_name_prefix="world")
        self._landing: tuple[DataVersion, float] | None = None
        self._in_work = 0
        self._long_in_work = 0

    def close(self) -> None:
        """Let go of the threads."""
        self.workers.shutdown(wait=False, cancel_futures=True)
        self.long_workers.shutdown(wait=False, cancel_futures=True)
        self.reader.shutdown(wait=False, cancel_futures=True)

    def current(self) -> State:
        """Return what to answer from.

        Raises
        ------
        MissingDataError
            If the store was not read yet, or not for so long that its answers no longer count.
        """
        state = self.state
        if state is None:
            raise MissingDataError("the store is not read yet", remedy="try again in a few seconds")
        if time.monotonic() > state.good_until_s:
            raise MissingDataError(
                f"the store could not be read since {state.held.world.read_at:%Y-%m-%dT%H:%M:%SZ}",
                remedy="see the server's log",
            )
        return state

    async def answer(self, key: Key, make: Make, *, long: bool = False) -> Ready:
        """Return the answer that is kept under `key`, or make and keep it: once, however many ask."""
        state = self.current()
        if (kept := state.answers.get(key)) is not None:
            kept.asked_s = time.monotonic()
            return kept.ready
        pending = state.pending.get(key)
        if pending is None:
            pending = asyncio.ensure_future(self._made(state, key, make, long=long))
            state.pending[key] = pending
            pending.add_done_callback(partial(_settled, state, key))
        return await asyncio.shield(pending)

    async def once(self, work: Callable[[], Made]) -> Ready:
        """Return an answer that is not kept, worked out in another thread.

        Raises
        ------
        BusyError
            If too many are in work already.
        """
        if self._in_work >= MOST_IN_WORK:
            raise BusyError("too many questions at once", remedy="try again in a few seconds")
        self._in_work += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self.workers, lambda: make_ready(work()))
        finally:
            self._in_work -= 1

    async def long_once(self, work: Callable[[], Made]) -> Ready:
        """Return an answer that is not kept, and takes long to work out.

        Raises
        ------
        BusyError
            If too many such are in work already.
        """
        if self._long_in_work >= MOST_LONG_IN_WORK:
            raise BusyError("too many whole flights at once", remedy="try again in a few seconds")
        self._long_in_work += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self.long_workers, lambda: make_ready(work()))
        finally:
            self._long_in_work -= 1

    async def _made(self, state: State, key: Key, make: Make, *, long: bool) -> Ready:
        ready = await (self.long_once if long else self.once)(partial(make, state.held))
        state.keep(key, Kept(ready, make, time.monotonic(), long))
        return ready

    def look(self, now: datetime) -> bool:
        """Read the store anew if anything landed, or the minute turned; return whether it was read.

        Whatever turns by itself (a report grows stale, a forecast's group begins) turns on a whole minute.
        """
        if self.state is None:
            return self.refresh(now)
        world = self.state.held.world
        with reading(self.engine) as conn:
            version = data_version(conn)
        if self.moving and now >= next_turn(world.read_at):
            return self.refresh(now)
        if version == world.version:
            self._landing = None
            return False
        seen, since_s = self._landing or (None, time.monotonic())
        self._landing = (version, since_s)
        if seen == version or time.monotonic() - since_s > SETTLES_WITHIN_S:
            return self.refresh(now)
        return False

    def refresh(self, now: datetime) -> bool:
        """Read the store as of `now`, work out anew what is polled, and answer from that."""
        start_s = time.monotonic()
        before = self.state
        with reading(self.engine) as conn:
            world = read_world(conn, now.replace(microsecond=0), before.held.world if before else None)
        held = Held(
            world=world,
            parties=parties_by_id(self.store, world.documents),
            status=status_of(self.engine, world.read_at),
        )
        lasts_s = WORLD_LASTS.total_seconds() if self.moving else float("inf")
        state = State(held, time.monotonic() + lasts_s)
        until_s = time.monotonic() + POLLED_TAKE_S
        for key, kept in self._polled():
            if time.monotonic() > until_s:
                break
            try:
                state.keep(key, Kept(make_ready(kept.make(held)), kept.make, kept.asked_s))
            except RefugeError:
                continue  # it is refused in words when it is asked again
            except Exception:
                log.exception("an answer could not be made: %s", key)  # one question must not keep all others old
        self.state, self._landing = state, None
        if before is None or before.held.world.places is not world.places:
            gc.freeze()  # places stay for long: the collector need not walk them again and again, all waiting
        self._count(state, time.monotonic() - start_s)
        return True

    def _polled(self) -> list[tuple[Key, Kept]]:
        if self.state is None:
            return []
        since_s = time.monotonic() - POLLED_WITHIN_S
        polled = [
            (key, kept)
            for key, kept in dict(self.state.answers).items()
            if kept.asked_s >= since_s and not kept.long
        ]
        return sorted(polled, key=lambda item: item[1].asked_s, reverse=True)

    def _count(self, state: State, took_s: float) -> None:
        world, meters = state.held.world, self.meters
        meters.rebuilds.inc()
        meters.rebuild_seconds.observe(took_s)
        meters.ready.set(len(state.answers))
        meters.read_at.set(world.read_at.timestamp())
        if world.weather.data_as_of is not None:
            meters.data_as_of.set(world.weather.data_as_of.timestamp())


def next_turn(read_at: datetime) -> datetime:
    """Return from when a world that was read then may be out of date: one second past the next minute.

    A report is stale after its seventy-fifth minute, not at it: at the full minute it is still fresh.
    """
    shifted = read_at - timedelta(seconds=1)
    return shifted.replace(second=0, microsecond=0) + timedelta(minutes=1, seconds=1)


def _settled(state: State, key: Key, done: asyncio.Future[Ready]) -> None:
    state.pending.pop(key, None)
    if not done.cancelled():
        done.exception()  # seen here, in case that nobody waits any more


async def keep(service: Service, clock: Callable[[], datetime], every_s: float = 1.0) -> None:
    """Look at the store once a second, for ever; a store that fails is asked again."""
    loop = asyncio.get_running_loop()
    while True:
        try:
            await loop.run_in_executor(service.reader, service.look, clock())
        except StoreError as exc:
            service.meters.failures.inc()
            log.warning("the store could not be read: %s", exc)
        except Exception:
            # Whatever it is, the next look may succeed; until then answers grow old and then end.
            service.meters.failures.inc()
            log.exception("the world could not be made")
        await asyncio.sleep(every_s)
