"""A head says of a block what decoding it says, whatever is done to it; many lines at once end the same blocks."""

from collections.abc import Iterator

from hypothesis import given
from hypothesis import strategies as st

from refuge.weather.guidance import Guidance, decode_guidance
from refuge.weather.guidance_head import guidance_head, head_of
from refuge.weather.guidance_split import MAX_LINES, GuidanceSplitter
from refuge.weather.reports import Unreadable
from tests.core.weather.guidance_blocks import RECEIVED, blend, lamp

GOOD = {"CIG": ["60", "60", "60"], "VIS": ["100", "100", "100"], "TMP": ["60", "-5", "100"]}
DATED = blend(GOOD).replace("\n UTC ", "\n DT        /FEB  29\n UTC ", 1)  # 23Z, then 00Z of the 29th
LAMP_DATED = lamp(GOOD).replace("\nUTC ", "\nDT     /FEB  29\nUTC ", 1)
BLOCKS = (
    DATED,
    LAMP_DATED,
    blend(GOOD),
    blend(GOOD, product="NBS", first=5),
    lamp(GOOD),
    lamp(GOOD, extended=True),
)
LINES = (
    *(line for block in BLOCKS for line in block.split("\n")),
    *(
        "",
        " ",
        " " * 80,
        "HR   26 27 28",
        "DT /FEB  28",
        " DT     /FEB  29",
        "TMP",
        " TMPx  1",
        " XYZ   1  2",
        "\r",
        "#",
        "TMP \x0b",
    ),
    *("KAAA 282153Z 18010KT 10SM CLR", "METAR", "TAF", "XBAD   NBM V5.0 NBH WE_DANCE    2/28/2028  2200 UTC"),
    *("\x1e", "\x1eXDDD   NBM V5.0 NBH", "GUIDANCE", "GUIDANCE GUIDANCE UTC", "2/28/2028 2200 UTC", "X" * 500),
    *(" UTC  22 23 00", "UTC ", " CIG " + "x" * 400, "\x03", "\x00"),
)


@st.composite
def damaged(draw: st.DrawFn) -> str:
    """Draw a block with lines put in, left out or repeated, and characters replaced."""
    lines = draw(st.sampled_from(BLOCKS)).split("\n")
    for _ in range(draw(st.integers(0, 2))):
        at = draw(st.integers(0, len(lines) - 1)) if lines else 0
        lines[at : at + draw(st.integers(0, 1))] = draw(st.lists(st.sampled_from(LINES), max_size=2))
    raw = "\n".join(lines)
    for _ in range(draw(st.integers(0, 2))):
        at = draw(st.integers(0, max(len(raw) - 1, 0)))
        raw = raw[:at] + draw(st.sampled_from(" \n\t0925#UXHG-\r")) + raw[at + draw(st.integers(0, 1)) :]
    return raw


@given(raw=damaged())
def test_a_head_is_that_of_the_block(raw: str) -> None:
    full = decode_guidance(raw, received_at=RECEIVED)
    assert guidance_head(raw, received_at=RECEIVED) == (head_of(full) if isinstance(full, Guidance) else full)


def test_a_head_is_that_of_each_whole_block_and_none_is_there_for_a_refused_one() -> None:
    for raw in BLOCKS:
        full = decode_guidance(raw, received_at=RECEIVED)
        assert isinstance(full, Guidance)
        assert guidance_head(raw, received_at=RECEIVED) == head_of(full)
    for raw in (
        "",
        f"{BLOCKS[0]}\n TMP   1  2  3",
        BLOCKS[0].replace("2028", "2029"),
        BLOCKS[0] + "\n #" * MAX_LINES,
    ):
        assert isinstance(guidance_head(raw, received_at=RECEIVED), Unreadable)


@given(
    pieces=st.lists(st.one_of(st.sampled_from(BLOCKS), damaged(), st.sampled_from(LINES)), max_size=12),
    between=st.sampled_from(("\n", "\n\n", "\n \n\n", "\r\r\n", "\n" + " " * 74 + "\n")),
    size=st.integers(1, 60),
    wanted=st.sampled_from((None, frozenset({"XAAA"}), frozenset({"XCCC", "XBAD"}))),
)
def test_many_lines_at_once_end_the_same_blocks(
    pieces: list[str], between: str, size: int, wanted: frozenset[str] | None
) -> None:
    lines = between.join(pieces).split("\n")
    assert list(at_once(lines, size, wanted)) == list(singly(lines, wanted))


def test_a_block_of_too_many_lines_is_cut_at_once_as_singly() -> None:
    for more in range(MAX_LINES - 5, MAX_LINES + 5):
        lines = ["", *BLOCKS[0].split("\n"), *[" #"] * more, "", *BLOCKS[1].split("\n"), ""]
        assert list(at_once(lines, 1000, None)) == list(singly(lines, None))


def singly(lines: list[str], wanted: frozenset[str] | None) -> Iterator[str | None]:
    splitter = GuidanceSplitter(wanted)
    yield from (block for line in lines if (block := splitter.push(line)) is not None)
    yield splitter.close()


def at_once(lines: list[str], size: int, wanted: frozenset[str] | None) -> Iterator[str | None]:
    splitter = GuidanceSplitter(wanted)
    for at in range(0, len(lines), size):
        yield from splitter.push_all(lines[at : at + size])
    yield splitter.close()
