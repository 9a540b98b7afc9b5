"""Patience: work that nobody waits for any more is given up.

Whoever starts a question says, for its thread, how to tell whether it is still wanted; the loops that may take long ask now and then.
Nothing is interrupted between two such looks, so what is kept for later questions is never half done. Without anybody's word, as on the
command line, every question is answered to its end.
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from kb.words.errors import KbError

_thread = threading.local()


class GivenUp(KbError):
    """Nobody waits for the answer any more."""


@contextmanager
def while_wanted(wanted: Callable[[], bool]) -> Iterator[None]:
    """What this thread does inside is given up once `wanted` says no."""
    before = getattr(_thread, "wanted", None)
    _thread.wanted = wanted
    try:
        yield
    finally:
        _thread.wanted = before


def go_on() -> None:
    """Called in every loop that may take long.

    Raises:
        GivenUp: nobody waits for the answer any more.
    """
    wanted = getattr(_thread, "wanted", None)
    if wanted is not None and not wanted():
        raise GivenUp("Nobody waits for this answer any more.", "Ask again, and say more about the unit, so that less is left open.")
