"""Aircraft files: the worked cases from files, and errors that name file, key and remedy."""

import csv
from datetime import date
from pathlib import Path

import pytest

from refuge.aircraft.case import FlightState
from refuge.aircraft.endurance import endurance
from refuge.aircraft.network import FUNCTIONS
from refuge.errors import InputError
from refuge.files.aircraft import load_aircraft
from refuge.files.lookup import find_file

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
TODAY = date(2026, 2, 15)
FILES = sorted([*(FIXTURES / "aircraft").glob("*.toml"), *(FIXTURES / "demo" / "aircraft").glob("*.toml")])
TEMPLATE = FIXTURES / "aircraft" / "template.toml"


def rows() -> list[dict[str, str]]:
    with (FIXTURES / "reference" / "endurance.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_worked_cases(row: dict[str, str]) -> None:
    flown = load_aircraft(FIXTURES / "aircraft" / f"{row['aircraft']}.toml")
    state = FlightState(
        on=TODAY,
        icing=row["icing"] == "yes",
        night=row["night"] == "yes",
        torch=row["torch"] == "yes",
        fuel_min=float(row["fuel_min"]) if row["fuel_min"] else None,
    )
    found = endurance(flown, state)
    assert found.information_min == pytest.approx(float(row["information_min"]), abs=1e-9)
    assert found.limited_by == row["limited_by"]
    assert found.dependable == (row["dependable"] == "yes")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_aircraft_of_the_repository_can_be_read(path: Path) -> None:
    flown = load_aircraft(path)
    assert flown.id == ("XX-TEMPLATE" if path == TEMPLATE else path.stem)
    assert flown.provenance["cruise_tas_kt"].source
    for source in flown.network.sources.values():
        if source.duration is not None:
            assert source.duration.basis
            assert source.duration.source


@pytest.mark.parametrize("path", [path for path in FILES if "demo" in path.parts], ids=lambda path: path.stem)
def test_the_demo_says_that_it_is_invented(path: Path) -> None:
    flown = load_aircraft(path)
    assert flown.id.startswith("XA-")
    said = {figure.source for figure in flown.provenance.values()}
    said |= {source.duration.source for source in flown.network.sources.values() if source.duration is not None}
    assert said == {"invented for the demo"}


def test_the_template_names_every_function() -> None:
    text = TEMPLATE.read_text(encoding="utf-8")
    assert [name for name in FUNCTIONS if name not in text] == []


def broken(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    text = (FIXTURES / "aircraft" / "D41.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "broken.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('id = "D41"\n', "", "id: is missing"),
        ('id = "D41"', 'id = "../D41"', "id: must be a name"),
        ("warning_light = true", "", "warning_light: is missing"),
        ("warning_light = true", 'warning_light = "yes"', "warning_light: must be true or false"),
        ("warning_light = true", "warning_lamp = true", "warning_lamp: is not a key that this file may have"),
        ("value = 110", "value = nan", "cruise_tas_kt.value: must be a finite number"),
        ("value = 110", 'value = "110"', "cruise_tas_kt.value: must be a number (there stands '110')"),
        ("value = 110", "value = true", "cruise_tas_kt.value: must be a number (there stands true)"),
        ("value = 110", "value = 0", "cruise_tas_kt.value: must be from 40 to 350 kt"),
        ('source = "invented for the tests"}', 'source = " "}', "cruise_tas_kt.source: must not be empty"),
        ('from = "failure", ', "", "source.main_battery.minutes.from: is missing"),
        ('from = "failure"', 'from = "shed"', "source.main_battery: minutes from shed need `shed_by_min`"),
        ("value = 30", "value = -1", "source.main_battery.minutes.value: must be from 0 to 600 min"),
        ('chemistry = "lead-acid"', 'chemistry = "nuclear"', "source.main_battery.chemistry: must be 'lead-acid'"),
        ("in_service = 2025-02-01", "in_service = 2025", "source.main_battery.in_service: must be a date"),
        ("ready = true\n", "", "source.standby_attitude_battery: say `ready = true`"),
        ('fed_by = ["alternator", "main_battery"]', 'fed_by = ["alternator", "batery"]', "fed by 'batery'"),
        ('gives = ["transponder"]', 'gives = ["coffee"]', "load.transponder.gives 1: must be 'attitude'"),
        ("[load.flaps]", "[lode.flaps]", "lode: is not a key"),
    ],
)
def test_faults_name_file_key_and_remedy(tmp_path: Path, old: str, new: str, fault: str) -> None:
    path = broken(tmp_path, (old, new))
    with pytest.raises(InputError) as caught:
        load_aircraft(path)
    assert fault in caught.value.what
    assert caught.value.where == str(path)
    assert caught.value.remedy is not None
    assert "template.toml" in caught.value.remedy
    assert caught.value.exit_code == 2


def test_all_faults_are_named_at_once(tmp_path: Path) -> None:
    path = broken(tmp_path, ("warning_light = true", ""), ("value = 110", "value = nan"), ("[load.flaps]", "[x]"))
    with pytest.raises(InputError) as caught:
        load_aircraft(path)
    assert all(word in caught.value.what for word in ("warning_light", "cruise_tas_kt.value", "x: is not a key"))


CAPACITY = (
    '[source.main_battery]\nkind = "battery"\ncapacity = {value_ah = 24, rate_h = 1, basis = "b", source = "s"}\n'
)
MINUTES = """[source.main_battery]
kind = "battery"
minutes = {value = 30, from = "failure", basis = "recognition and shedding included", \
source = "common practice, no source (reference.md 4.5)"}
"""


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        (((MINUTES, CAPACITY),), "load.radio_and_navigation: it needs `amps`, as main_battery is counted in Ah"),
        (
            ((MINUTES, CAPACITY.replace("24", "0")),),
            "source.main_battery.capacity.value_ah: must be from 0.1 to 200 Ah",
        ),
        (((MINUTES, CAPACITY.replace("rate_h = 1", "rate_h = 20, peukert = 1")),), "credit it wholly"),
        ((('"main_battery"]', '{from = "main_battery", takes_over = "tide"}]'),), "bus.main.fed_by"),
        ((('"main_battery"]', '"main_battery", "standby_battery"]'),), "say how standby_battery takes over"),
        (
            (('"main_battery"]', '"main_battery", {from = "standby_battery", takes_over = "tied"}]'),),
            "are tied and share the load",
        ),
        (
            (
                (
                    '["alternator", "main_battery"]',
                    '[{from = "main_battery", takes_over = "by hand"}, "alternator"]',
                ),
            ),
            "takes over from nothing",
        ),
        (
            (("[load.flaps]", '[[shed]]\nloads = ["x"]\nby = "pilot"\nsource = "s"\n[load.flaps]'),),
            "'x' is no load",
        ),
        ((("[load.flaps]", '[[shed]]\nloads = []\nby = "pilot"\nsource = "s"\n[load.flaps]'),), "shed 1.loads"),
        ((("[load.flaps]", "[load.flaps]\nlanding = true"),), "load.flaps: a landing load needs `amps`"),
        ((("[load.pitot_heat]", "[load.pitot_heat]\nlanding = true"),), "pitot_heat is needed all the time"),
    ],
)
def test_faults_of_the_power_network(tmp_path: Path, changes: tuple[tuple[str, str], ...], fault: str) -> None:
    with pytest.raises(InputError) as caught:
        load_aircraft(broken(tmp_path, *changes))
    assert fault in caught.value.what


def test_a_file_that_is_not_there_or_no_toml(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        load_aircraft(tmp_path / "none.toml")
    path = tmp_path / "bad.toml"
    path.write_text("id = \n", encoding="utf-8")
    with pytest.raises(InputError, match="is no TOML"):
        load_aircraft(path)
    path.write_bytes(b"id = '\xff'\n")
    with pytest.raises(InputError, match="is no text file in UTF-8 - name a TOML file"):
        load_aircraft(path)


def test_files_are_found_by_path_or_by_id(tmp_path: Path) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    for folder in (first, second):
        folder.mkdir()
        (folder / "XA-ONE.toml").touch()
    (second / "XA-TWO.toml").touch()
    folders = [tmp_path / "none", first, second]
    assert find_file("XA-ONE", kind="aircraft", folders=folders) == first / "XA-ONE.toml"
    assert find_file("XA-TWO", kind="aircraft", folders=folders) == second / "XA-TWO.toml"
    assert find_file(str(second / "XA-ONE.toml"), kind="aircraft", folders=[]) == second / "XA-ONE.toml"
    for name in ("XA-THREE", "../first/XA-ONE", "..", ""):
        with pytest.raises(InputError, match="no aircraft file or id"):
            find_file(name, kind="aircraft", folders=[second])
