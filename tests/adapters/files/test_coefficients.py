"""Coefficient files of the magnetic model: the one that is carried, and broken ones."""

import csv
from pathlib import Path

import pytest

from refuge.errors import InputError
from refuge.files.coefficients import load_magnetic_model, magnetic_model
from refuge.packaged import packaged

WHOLE = (packaged("coefficients") / "WMM2025.COF").read_text(encoding="ascii")


def test_the_carried_model() -> None:
    """First and last lines of the file, by eye."""
    model = magnetic_model()
    assert (model.g_nt[1, 0], model.h_nt[1, 0], model.g_nt_a_year[1, 0]) == (-29351.8, 0.0, 12.0)
    assert (model.g_nt[12, 12], model.h_nt[12, 12]) == (-0.7, 0.2)
    assert (model.g_nt_a_year[12, 12], model.h_nt_a_year[12, 12]) == (-0.1, -0.1)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2025.0 WMM-2025\n",
        WHOLE.replace("  1  1   -1410.8", "  1  1   many"),
        "\n".join(WHOLE.splitlines()[:60]),
        WHOLE.replace("  1  1   -1410.8", "  1  0   -1410.8"),
        WHOLE.replace("  1  1   -1410.8", "  1 13   -1410.8"),
        WHOLE.replace("  1  1   -1410.8", "  1  1      nan"),
        WHOLE.replace("  1  1   -1410.8    4545.4        9.7      -21.5", "  1  1   -1410.8    4545.4"),
    ],
    ids=["empty", "header", "word", "cut", "twice", "order", "nan", "short"],
)
def test_a_broken_file_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "broken.cof"
    path.write_text(text)
    with pytest.raises(InputError, match=r"no whole set|not complete"):
        load_magnetic_model(path)


def test_file_and_official_values_are_those_published(shared_data: Path) -> None:
    published = shared_data / "magnetic"
    assert (published / "WMM2025.COF").read_text(encoding="ascii") == WHOLE
    lines = (published / "WMM2025_TEST_VALUES.txt").read_text(encoding="ascii").splitlines()
    wanted = [[float(x) for x in line.split()] for line in lines if not line.startswith("#")]
    with (packaged("coefficients").parent / "fixtures" / "reference" / "wmm2025.csv").open(newline="") as file:
        typed = [[float(x) for key, x in row.items() if key != "source"] for row in csv.DictReader(file)]
    assert typed == wanted


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no whole set"):
        load_magnetic_model(tmp_path / "none.cof")
