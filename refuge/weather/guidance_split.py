"""Where one station's block of guidance begins and ends in a bulletin of thousands.

A block begins at its header line, or at the record separator that some gateways put before it,
and ends at a blank line, at the next header, or at a line that starts a report. A header that is
damaged is found by its date, or by the line of hours below it, so that its block is refused by
name instead of running into its neighbour.
"""

import re
from collections.abc import Container, Iterable, Iterator

MAX_LINES = 80
"""No block has more (NBS of V5.0: 44); what follows is not kept, and the block is refused for it."""
MAX_CHARS = 400
"""No line has more (38 hours: 120)."""

_ENDS = " \t\r\n\x00\x01\x03"
_SEPARATOR = "\x1e"
_DATED = re.compile(r"\d{1,2}/\d{1,2}/\d{4} +\d{4} UTC", re.ASCII)
_HOURS = ("UTC ", "DT ", "HR ")
_REPORT = re.compile(r"(?:METAR|SPECI|TAF)\b|(?:(?:AMD|COR) )?[A-Z][A-Z0-9]{3} \d{6}Z", re.ASCII)
_STAMP = re.compile(r"Z(?<=\d{6}Z)", re.ASCII)
_STATION = re.compile(r"[A-Z0-9]{3,8}", re.ASCII)


class GuidanceSplitter:
    """Takes a text line by line and gives whole blocks; keeps nothing of stations that nobody wants.

    ``took_line`` says whether the last line belongs to a block, wanted or not; ``took_line_before``
    whether the line before it turned out to do so.
    """

    __slots__ = ("_before", "_inside", "_lines", "_wanted", "took_line", "took_line_before")

    def __init__(self, wanted: Container[str] | None = None) -> None:
        """Keep the blocks of `wanted` stations; of all, for ``None``."""
        self._wanted = wanted
        self._lines: list[str] = []
        self._inside = False
        self._before = ""
        self.took_line = self.took_line_before = False

    def push(self, line: str) -> str | None:
        """Take one line without its end; return the block that it ends, if it ends one that is wanted."""
        self.took_line_before = False
        self.took_line = True
        line = line[:MAX_CHARS].rstrip(_ENDS)
        separated = _SEPARATOR in line
        if separated:
            line = line.rpartition(_SEPARATOR)[2]
        if line and (separated or "GUIDANCE" in line or (line.endswith("UTC") and _DATED.search(line))):
            return self._begin([line])
        if not line:
            self.took_line = separated
            return self.close()
        if self._inside:
            if _REPORT.match(line.lstrip()):
                self.took_line = False
                return self.close()
            if self._lines and len(self._lines) <= MAX_LINES:
                self._lines.append(line)
            return None
        if self._before and line.lstrip().startswith(_HOURS):
            self.took_line_before = True
            return self._begin([self._before, line])
        self._before = line
        self.took_line = False
        return None

    def push_all(self, lines: Iterable[str]) -> list[str]:
        """Take many lines, which is quicker; return the wanted blocks that they end, as `push` for each would."""
        stripped = [line.rstrip(_ENDS) for line in lines]
        try:
            first = stripped.index("")
        except ValueError:
            return self._one_by_one(stripped)
        last = len(stripped) - 1 - stripped[::-1].index("")
        between = stripped[first + 1 : last]
        plain = _plain_blocks(between)
        if plain is None:
            return self._one_by_one(stripped)
        wanted = self._wanted
        # A blank line leaves nothing open, so what is between the first and the last stands alone.
        return [
            *self._one_by_one(stripped[: first + 1]),
            *(block for station, block in plain if wanted is None or station in wanted),
            *self._one_by_one(stripped[last + 1 :]),
        ]

    def _one_by_one(self, lines: Iterable[str]) -> list[str]:
        return [block for line in lines if (block := self.push(line)) is not None]

    def close(self) -> str | None:
        """Return the block that is open at the end of the text, or at a blank line, if it is wanted."""
        block = "\n".join(self._lines) if self._lines else None
        self._lines, self._inside, self._before = [], False, ""
        return block

    def _begin(self, lines: list[str]) -> str | None:
        block = self.close()
        self._inside = True
        if self._wanted is None or lines[0].split(maxsplit=1)[0] in self._wanted:
            self._lines = lines
        return block


def _plain_blocks(lines: list[str]) -> list[tuple[str, str]] | None:
    """Return station and text of each block in lines that begin and end no block but by a blank line.

    ``None`` where anything else might: judged of all lines at once, and rather too often.
    """
    text = "\n".join(lines)
    if (
        _SEPARATOR in text
        or "TAF" in text
        or "METAR" in text
        or "SPECI" in text
        or _STAMP.search(text)
        or len(max(lines, key=len, default="")) > MAX_CHARS
    ):
        return None
    blocks: list[tuple[str, str]] = []
    for part in text.split("\n\n"):
        block = part.strip("\n")
        if not block:
            continue
        header = block.partition("\n")[0]
        if "GUIDANCE" not in header or not header.endswith("UTC") or block.count("\n") >= MAX_LINES:
            return None
        blocks.append((header.split(maxsplit=1)[0], block))
    count = len(blocks)
    # So there is no other header, whole or damaged, below the first lines.
    return blocks if text.count("GUIDANCE") == count and f"{text}\n".count("UTC\n") == count else None


def may_hold_guidance(text: str) -> bool:
    """Return whether a text has a line that looks like a block's header."""
    return " GUIDANCE " in text or _DATED.search(text) is not None


def parted(text: str) -> Iterator[tuple[bool, str]]:
    """Yield the pieces of a mixed text in their order: whether one is a block of guidance, and its text."""
    if not may_hold_guidance(text):
        yield False, text
        return
    splitter = GuidanceSplitter()
    others: list[str] = []
    for line in text.split("\n"):
        block = splitter.push(line)
        if block is not None:
            yield True, block
        if splitter.took_line_before:
            others.pop()
        if not splitter.took_line:
            others.append(line)
        elif others:
            yield False, "\n".join(others)
            others.clear()
    last = splitter.close()
    if last is not None:
        yield True, last
    if others:
        yield False, "\n".join(others)


def station_of(raw: str) -> str | None:
    """Return the station that a block seems to be of, also where its header is damaged."""
    first = raw.split(maxsplit=1)[:1]
    return first[0] if first and _STATION.fullmatch(first[0]) else None
