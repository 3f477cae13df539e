"""Real guidance of several versions, read cell by cell a second way; damaged files refused or doubted."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from refuge.weather.guidance import Guidance, decode_guidance
from refuge.weather.guidance_hours import hours_of
from refuge.weather.guidance_split import parted
from refuge.weather.reports import Unreadable
from refuge.weather.sky import CeilingAt, KnownVisibility, NoCeiling, UnknownCeiling, UnknownVisibility

RECEIVED = datetime(2026, 11, 1, tzinfo=UTC)
ROOT = Path(__file__).resolve().parents[3]


def blocks(path: Path) -> list[Guidance | Unreadable]:
    text = path.read_bytes().decode("latin-1")
    return [decode_guidance(piece, received_at=RECEIVED) for is_block, piece in parted(text) if is_block]


@pytest.mark.parametrize(
    ("name", "stations", "refused"),
    [
        # data/README.md: damaged on purpose, or other products; the LAV file ends in lines of another station
        ("LAVUSA", ["PHBK", "PHHI"], ["stands twice"]),
        ("LEVUSA", ["PHBK", "PHHI", "PHJH"], []),
        ("NBSUSA", ["KALM", "KALN"], []),
        ("NBSUSA_32", ["46083", "46084", "46085"], []),
        ("NBS_12Z", ["KDSM"], []),
        ("NBS_v5", ["KDSM"], []),
        ("NBS_shortline", ["KDSM"], []),
        ("NBS_unknown_var", ["KDSM"], []),
        ("NBS_badheader", [], ["is no header"]),
        ("NBS_badtime", [], ["hours ahead"]),
        ("NBEUSA", [], ["NBE"] * 2),
        ("METNC1", [], ["NAM MOS"] * 4),
    ],
)
def test_every_sample(shared_data: Path, name: str, stations: list[str], refused: list[str]) -> None:
    found = blocks(shared_data / "guidance" / f"{name}.txt")
    assert [block.station for block in found if isinstance(block, Guidance)] == stations
    errors = [block.error for block in found if isinstance(block, Unreadable)]
    assert all(word in error for word, error in zip(refused, errors, strict=True))


@pytest.mark.parametrize("name", ["NBSUSA", "NBSUSA_32", "NBS_12Z", "NBS_v5", "NBS_shortline", "NBS_unknown_var"])
def test_ceiling_and_visibility_read_a_second_way(shared_data: Path, name: str) -> None:
    """By data/README.md: columns of three, hundreds of feet, tenths of a mile; -88, 888, -99, 999."""
    read = 0
    for block in blocks(shared_data / "guidance" / f"{name}.txt"):
        assert isinstance(block, Guidance)
        lines = {line[:3]: line[4:] for line in block.raw.split("\n")}
        for number, hour in enumerate(hours_of(block)):
            ceiling, visibility = (int(lines[key][3 * number : 3 * number + 3]) for key in ("CIG", "VIS"))
            match hour.ceiling:
                case CeilingAt(ft_agl=ft):
                    assert ft == 100 * ceiling
                case NoCeiling():
                    assert ceiling in (-88, 888)
                case UnknownCeiling():
                    assert ceiling in (-99, 999)
            match hour.visibility:
                case KnownVisibility(sm=sm):
                    assert sm == pytest.approx(visibility / 10)
                case UnknownVisibility():
                    assert visibility in (-99, 999)
            read += 1
    assert read >= 21


def test_the_typed_blocks() -> None:
    found = blocks(ROOT / "fixtures" / "bulletins" / "guidance.txt")
    future = [block for block in found if isinstance(block, Unreadable)]
    assert [block.station for block in future] == ["XAAA", "XBBB", "XCCC", "XCCC"]
    text = (ROOT / "fixtures" / "bulletins" / "guidance.txt").read_text(encoding="utf-8")
    later = datetime(2028, 3, 1, tzinfo=UTC)
    values = [decode_guidance(piece, received_at=later) for is_block, piece in parted(text) if is_block]
    assert [v.product for v in values if isinstance(v, Guidance)] == ["NBH", "NBH", "NBS", "LAV", "LEV"]
    jfk = values[0]
    assert isinstance(jfk, Guidance)
    # KJFK, 2020-07-26 23Z (fourth column): CIG 360, VIS 140, WDR 24, WSP 8, GST 15
    hour = hours_of(jfk)[3]
    assert hour.at == datetime(2020, 7, 26, 23, tzinfo=UTC)
    assert hour.ceiling == CeilingAt(ft_agl=36_000)
    assert hour.visibility == KnownVisibility(sm=14.0)
