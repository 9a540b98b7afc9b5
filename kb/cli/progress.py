"""Long work on a terminal: a bar with the remaining time. Silent in a pipe."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def counted(what: str, total: int, done: int = 0) -> Iterator[Callable[[int], None]]:
    """Show how far work is; call what it yields with the number done so far. done: those finished earlier, which took no time in this run."""
    if not sys.stderr.isatty():
        yield lambda now: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TextColumn("left:"), TimeRemainingColumn(compact=True))
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        bar = shown.add_task(what, total=total, completed=done)
        yield lambda now: shown.update(bar, completed=now)
