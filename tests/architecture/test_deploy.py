"""What operates refuge: the container file, the compose file and the units, as far as they can be checked unrun."""

import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path
from typing import Any

import pytest
import yaml  # type: ignore[import-untyped]

from refuge.cli import app

STOP_LONGER_THAN_S = 50 + 15
"""A fetch may take 50 s (refuge.worker.run), its transaction some seconds."""
UNITS = ("refuge-worker.service", "refuge-serve.service")


def containerfile(root: Path) -> str:
    return (root / "deploy" / "Containerfile").read_text(encoding="utf-8")


def copied(root: Path) -> set[str]:
    """Return what the container file copies from the clone."""
    lines = re.findall(r"^COPY (?!--from)(.+)$", containerfile(root), re.MULTILINE)
    return {name for line in lines for name in line.split()[:-1]}


def test_the_container_file_has_no_bad_habits(root: Path) -> None:
    program = Path(sys.executable).with_name("hadolint")
    done = subprocess.run(
        [program, "--no-color", root / "deploy" / "Containerfile"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, "")


def test_the_image_has_all_that_the_wheel_is_made_of(root: Path, tmp_path: Path) -> None:
    for name in copied(root):
        source, target = root / name, tmp_path / "src" / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, target)
    words = [
        "wheel",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "--no-index",
        "--wheel-dir",
        str(tmp_path),
        ".",
    ]
    subprocess.run([sys.executable, "-m", "pip", *words], cwd=tmp_path / "src", check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    inside = zipfile.ZipFile(wheel).namelist()
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    for target in project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"].values():
        assert any(name.startswith(f"{target}/") for name in inside), target
    assert "refuge/cli/work.py" in inside


def test_the_image_runs_as_nobody_special_on_the_python_that_is_locked(root: Path) -> None:
    text = containerfile(root)
    bases = set(re.findall(r"^FROM (\S+)", text, re.MULTILINE))
    assert bases == {"python:3.11-slim-bookworm"}
    assert re.search(r"^USER 10001$", text, re.MULTILINE)
    assert "--require-hashes" in text


@pytest.fixture
def compose(root: Path) -> dict[str, Any]:
    read: dict[str, Any] = yaml.safe_load((root / "deploy" / "compose.yaml").read_text(encoding="utf-8"))
    return read


def test_only_the_server_is_published_and_only_to_this_machine(compose: dict[str, Any]) -> None:
    ports = {name: service["ports"] for name, service in compose["services"].items() if "ports" in service}
    assert ports == {"api": ["127.0.0.1:8000:8000"]}
    assert compose["services"]["db"]["networks"] == ["inside"]
    assert compose["networks"]["inside"] == {"internal": True}


@pytest.mark.parametrize("name", ["worker", "api"])
def test_our_containers_have_no_privileges(compose: dict[str, Any], name: str) -> None:
    service = compose["services"][name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert service["depends_on"] == {"db": {"condition": "service_healthy"}}
    assert (service["build"]["context"], service["build"]["dockerfile"]) == ("..", "deploy/Containerfile")


@pytest.mark.parametrize("name", ["worker", "api"])
def test_containers_and_units_call_commands_that_there_are(compose: dict[str, Any], root: Path, name: str) -> None:
    words = [compose["services"][name]["command"]]
    unit = {"worker": "refuge-worker.service", "api": "refuge-serve.service"}[name]
    words.append(setting(root, unit, "ExecStart")[0].split()[1:])
    for command, *options in words:
        found = app.get_command(app.make_context("refuge", [command], resilient_parsing=True), command)
        assert found is not None
        known = {option for parameter in found.params for option in parameter.opts}
        assert {word for word in options if word.startswith("--")} <= known


def test_no_password_is_written_down(root: Path, compose: dict[str, Any]) -> None:
    store = compose["services"]["worker"]["environment"]["REFUGE_STORE"]
    assert store.startswith("postgresql://refuge:${REFUGE_DB_PASSWORD:?")
    assert "REFUGE_DB_PASSWORD=\n" in (root / "deploy" / "env.example").read_text(encoding="utf-8")


def test_a_stop_waits_for_what_is_running(compose: dict[str, Any], root: Path) -> None:
    assert int(compose["services"]["worker"]["stop_grace_period"].removesuffix("s")) >= STOP_LONGER_THAN_S
    assert int(setting(root, "refuge-worker.service", "TimeoutStopSec")[0]) >= STOP_LONGER_THAN_S


def setting(root: Path, unit: str, name: str) -> list[str]:
    """Return what a unit says of one setting."""
    text = (root / "deploy" / "systemd" / unit).read_text(encoding="utf-8")
    return re.findall(rf"^{name}=(.*)$", text, re.MULTILINE)


@pytest.fixture
def units(root: Path, tmp_path: Path) -> list[str]:
    """Give the units with a program that this machine has, where theirs is not installed."""
    here = []
    for name in UNITS:
        text = (root / "deploy" / "systemd" / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text.replace("/opt/refuge/bin/refuge", sys.executable), encoding="utf-8")
        here.append(str(tmp_path / name))
    return here


def analyze(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["systemd-analyze", *words], capture_output=True, text=True, check=False)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
def test_the_units_are_well_formed(units: list[str]) -> None:
    done = analyze("verify", "--man=no", *units)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def with_a_brief(unit: str) -> str:
    """Return the worker's unit with what its comments offer switched on."""
    return re.sub(r"^#(?=[A-Z][A-Za-z]+=)", "", unit, flags=re.MULTILINE)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
def test_the_worker_with_a_brief_is_as_well_formed_and_hardened(units: list[str]) -> None:
    (path,) = (path for path in units if path.endswith("refuge-worker.service"))
    text = Path(path).read_text(encoding="utf-8")
    Path(path).write_text(with_a_brief(text), encoding="utf-8")
    assert len(with_a_brief(text)) == len(text) - 4
    # of several the last counts (systemd.exec): the group may read what is written
    assert re.findall(r"^UMask=(.*)$", with_a_brief(text), re.MULTILINE)[-1] == "0027"
    done = analyze("verify", "--man=no", path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    done = analyze("security", "--offline=true", "--threshold=15", "--no-pager", path)
    assert done.returncode == 0, done.stdout[-200:]


def test_settings_of_a_brief_are_those_of_the_command(root: Path, compose: dict[str, Any]) -> None:
    work = app.get_command(app.make_context("refuge", ["work"], resilient_parsing=True), "work")
    assert work is not None
    wanted = {str(each.envvar) for each in work.params if each.name and each.name.startswith("brief")}
    assert len(wanted) == 4
    unit = (root / "deploy" / "systemd" / "refuge-worker.service").read_text(encoding="utf-8")
    example = (root / "deploy" / "env.example").read_text(encoding="utf-8")
    inside = {name for name in compose["services"]["worker"]["environment"] if name.startswith("REFUGE_BRIEF")}
    named = re.compile(r"REFUGE_BRIEF\w*(?==)")
    assert wanted == inside == set(named.findall(unit)) == set(named.findall(example))


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
@pytest.mark.parametrize("name", UNITS)
def test_the_units_are_hardened(units: list[str], name: str) -> None:
    (unit,) = (path for path in units if path.endswith(name))
    done = analyze("security", "--offline=true", "--threshold=15", "--no-pager", unit)  # in tenths
    assert done.returncode == 0, done.stdout[-200:]
