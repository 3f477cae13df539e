"""Progress on a terminal's stderr; nothing anywhere else."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def counting(label: str, total: int | None = None) -> Iterator[Callable[[int], None]]:
    """Give a function that is told how many more are done; the bar goes when the work is over."""
    if not sys.stderr.isatty():
        yield lambda _more: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=total)
        yield lambda more: bar.advance(task, more)
