"""Groups of tests that need something this machine may not have: run when found, named when not.

A group is a marker with a rule that finds what it needs; asking for the fixture of the same name
puts a test into it too. When that is missing its tests are
skipped and the summary names the group and how to enable it; with ``REFUGE_TESTS=all`` (set by
``.ci/run``) each group left out fails the run instead.
"""

import os
import shutil
import socket
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from hypothesis import settings

# No deadline: a busy machine is no bug. With CI set the examples are the same each time.
settings.register_profile("refuge", settings.get_profile("ci" if "CI" in os.environ else "default"), deadline=None)
settings.load_profile("refuge")

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One group: its marker, what it lacks now (``None``: nothing), and how to enable it."""

    marker: str
    missing: Callable[[], str | None]
    enable: str


def shared_data_folder() -> Path:
    """Return where the real reports lie: REFUGE_SHARED_DATA, or ../shared/data beside the clone."""
    named = os.environ.get("REFUGE_SHARED_DATA")
    return Path(named) if named else ROOT.parent / "shared" / "data"


def _without_shared_data() -> str | None:
    folder = shared_data_folder()
    return None if (folder / "reports").is_dir() else f"{folder} has no reports"


def _without_postgis() -> str | None:
    url = os.environ.get("REFUGE_TEST_POSTGIS_URL")
    if not url:
        return "REFUGE_TEST_POSTGIS_URL is not set"
    parts = urlsplit(url)
    try:
        with socket.create_connection((parts.hostname or "localhost", parts.port or 5432), timeout=2):
            return None
    except OSError as exc:
        return f"no server answers at {parts.hostname}:{parts.port or 5432} ({exc})"


def _without_browser() -> str | None:
    named = os.environ.get("REFUGE_TEST_BROWSER")
    if named:
        return None if shutil.which(named) else f"{named} (REFUGE_TEST_BROWSER) is no program"
    return None if any(map(shutil.which, ("chromium", "chromium-browser"))) else "no Chromium on the path"


def _all_asked_for() -> bool:
    return os.environ.get("REFUGE_TESTS") == "all"


GROUPS = (
    Group(
        marker="shared_data",
        missing=_without_shared_data,
        enable="put the data folder at ../shared/data beside the clone, or name it in REFUGE_SHARED_DATA",
    ),
    Group(
        marker="postgis",
        missing=_without_postgis,
        enable="start a PostgreSQL with PostGIS and name its address in REFUGE_TEST_POSTGIS_URL",
    ),
    Group(
        marker="browser",
        missing=_without_browser,
        enable="install Chromium, or name the program in REFUGE_TEST_BROWSER",
    ),
)

_ABSENT = pytest.StashKey[dict[str, str]]()
_LEFT_OUT = pytest.StashKey[Counter[str]]()


def _belongs(item: pytest.Item, group: Group) -> bool:
    """Return whether the test carries the group's marker, or asks for the fixture of that name."""
    return item.get_closest_marker(group.marker) is not None or group.marker in getattr(item, "fixturenames", ())


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Find out which groups lack what they need; skip their tests, unless all are asked for."""
    absent = {group.marker: why for group in GROUPS if (why := group.missing()) is not None}
    left_out: Counter[str] = Counter()
    for item in items:
        for group in GROUPS:
            if group.marker in absent and _belongs(item, group):
                left_out[group.marker] += 1
                if not _all_asked_for():
                    item.add_marker(pytest.mark.skip(reason=f"{group.marker}: {absent[group.marker]}"))
    config.stash[_ABSENT], config.stash[_LEFT_OUT] = absent, left_out


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Fail a test whose group lacks what it needs; without REFUGE_TESTS=all it was skipped before."""
    for group in GROUPS:
        why = item.config.stash[_ABSENT].get(group.marker)
        if why is not None and _all_asked_for() and _belongs(item, group):
            pytest.fail(f"{group.marker}: {why}. To enable: {group.enable}.", pytrace=False)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Name each group that was left out, and how to enable it."""
    left_out = config.stash.get(_LEFT_OUT, Counter())
    for group in GROUPS:
        if left_out[group.marker]:
            terminalreporter.write_line(
                f"left out: {group.marker}, {left_out[group.marker]} tests: {config.stash[_ABSENT][group.marker]}. "
                f"To enable: {group.enable}.",
                yellow=True,
            )


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Return the folder of real reports; asking for it puts a test into its group."""
    return shared_data_folder()


@pytest.fixture(scope="session")
def root() -> Path:
    """Return the top folder of the clone."""
    return ROOT
