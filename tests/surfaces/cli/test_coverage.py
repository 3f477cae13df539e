"""`refuge coverage` on the demo's store: counts, a box across 180 degrees, a map, and what it refuses."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from refuge.cli import app
from refuge.coast import Coast
from refuge.flight.caution import CAUTION
from refuge.flight.coverage import KINDS, Coverage
from refuge.render import coverage_picture

NOW = "2026-03-10T15:00Z"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("coverage") / "refuge-demo.sqlite"
    assert CliRunner().invoke(app, ["demo", "--keep", str(path)]).exit_code in {0, 1}
    return str(path)


def run(*words: str) -> str:
    result = CliRunner().invoke(app, ["coverage", "--now", NOW, *words])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_the_counts_add_up(store: str) -> None:
    answer = json.loads(run("--store", store, "--json"))
    assert sum(row["all"] for row in answer["kinds"]) == answer["airfields"] > 0
    assert sum(row["usable"] for row in answer["kinds"]) == answer["usable"]
    assert answer["caution"].startswith("Planning aid.")
    text = run("--store", store)
    assert "own report and own forecast" in text
    assert "an assumption, not a count" in text


def test_before_anything_was_heard_there_is_nothing(store: str) -> None:
    """As of a day before the first bulletin no station was heard."""
    result = CliRunner().invoke(app, ["coverage", "--now", "2026-03-01T00:00Z", "--store", store, "--json"])
    answer = json.loads(result.stdout)
    assert {row["kind"]: row["all"] for row in answer["kinds"]}["nothing"] == answer["airfields"]


def test_a_box(store: str) -> None:
    whole = json.loads(run("--store", store, "--json"))["airfields"]
    assert json.loads(run("--store", store, "--json", "--region=-180,-90,180,90"))["airfields"] == whole
    assert json.loads(run("--store", store, "--json", "--region=170,-90,-170,90"))["airfields"] == 0


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_a_map(store: str, tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"map.{kind}"
    run("--store", store, "--picture", str(path))
    assert path.read_bytes()[:5] in {b"<?xml", b"\x89PNG\r"}


def test_the_world_begins_at_180_degrees_and_what_lies_across_it_stays_together() -> None:
    world = np.linspace(-179.0, 179.0, 100)
    assert coverage_picture._bounds(np.zeros(100), coverage_picture._about(world, coverage_picture._centre(world)))[
        :2
    ] == (-180.0, 180.0)
    pacific = np.array([178.0, -178.0])
    west, east, _, _ = coverage_picture._bounds(
        np.zeros(2), coverage_picture._about(pacific, coverage_picture._centre(pacific))
    )
    assert east - west == pytest.approx(5.0)
    line = np.array([[179.0, 1.0], [-179.0, 2.0], [-178.0, 3.0]])
    assert [len(part) for part in coverage_picture._flat(line, 180.0)] == [3]
    assert [len(part) for part in coverage_picture._flat(line, 0.0)] == [2], "no line across the whole map"


def test_the_title_lies_within_the_picture_and_the_caution_below_it(store: str, tmp_path: Path) -> None:
    path = tmp_path / "map.svg"
    run("--store", store, "--picture", str(path))
    drawn = path.read_text(encoding="utf-8")
    lines = [line for line in drawn.splitlines() if line.lstrip().startswith("<text ")]
    title = next(line for line in lines if "by evidence, as of" in line)
    found = re.search(r' y="([-\d.]+)"| translate\([-\d.]+ ([-\d.]+)\)', title)
    assert found is not None
    assert float(found[1] or found[2]) > 11.0  # the foot of letters that are 11 points high
    assert "".join(CAUTION.split()) in "".join(re.sub("<[^>]*>", "", drawn).split())


def test_every_kind_of_evidence_has_a_shape_of_its_own() -> None:
    assert len({mark for mark, _ in coverage_picture.MARKS}) == len(KINDS) == len(coverage_picture.MARKS)


def test_a_region_without_airfields_is_drawn() -> None:
    none = np.zeros(0, dtype=bool)
    nothing = Coverage(
        airfields=(), kind=np.zeros(0, dtype=np.int64), own_report=none, report=none, forecast=none, usable=none,
    )  # fmt: skip
    coast = Coast(land=(), coasts=(), borders=(), said="none")
    drawn = coverage_picture.coverage_picture(nothing, region="QQ", now="then", kind="svg", coast=coast)
    assert b"nothing (0)" in drawn


@pytest.mark.parametrize("region", ["QQ", "1,2,3", "10,20,30,10", "a,b,c,d"])
def test_what_is_no_region_is_refused(store: str, region: str) -> None:
    result = CliRunner().invoke(app, ["coverage", "--now", NOW, "--store", store, f"--region={region}"])
    assert result.exit_code != 0
