"""Logs on stderr, one line an event, ``key=value``: for people and for grep."""

import json
import logging
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_PLAIN_UNLIKE = set(' "=\n\r\t')
LOG = logging.getLogger("refuge.worker")


class KeyValueFormatter(logging.Formatter):
    """Times in UTC, the level, the event, then what belongs to it."""

    converter = time.gmtime  # type: ignore[assignment]

    def format(self, record: logging.LogRecord) -> str:
        """Return the record on one line, a traceback folded into its last value."""
        values: dict[str, Any] = {
            "time": self.formatTime(record, "%Y-%m-%dT%H:%M:%SZ"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, "values", {}),
        }
        if record.name != LOG.name:
            values["from"] = record.name
        if record.exc_info:
            values["traceback"] = self.formatException(record.exc_info)
        return " ".join(f"{key}={_written(value)}" for key, value in values.items() if value is not None)


@contextmanager
def logging_to_stderr(*, verbose: bool) -> Iterator[None]:
    """Send what the worker does to stderr meanwhile, and of the libraries what they warn of."""
    handler = logging.StreamHandler()
    handler.setFormatter(KeyValueFormatter())
    root = logging.getLogger()
    root.addHandler(handler)
    LOG.setLevel(logging.DEBUG if verbose else logging.INFO)
    try:
        yield
    finally:
        root.removeHandler(handler)


def said(level: int, event: str, **values: object) -> None:
    """Log an event with its values."""
    LOG.log(level, event, extra={"values": values})


def _written(value: object) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return json.dumps(text, ensure_ascii=False) if not text or _PLAIN_UNLIKE & set(text) else text
