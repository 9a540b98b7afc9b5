"""Which units a part fits, as text (`kb units`)."""

from collections.abc import Sequence

from rich.console import Console

from kb.cli.views.layout import at, bracketed, columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import span
from kb.words.answers.fitment import UnitRange, UnitsAnswer


def units(answer: UnitsAnswer, console: Console, names: Names) -> None:
    """The sentence for a listing, and the stretches behind it."""
    line(console, answer.sentence, indent=0)
    for sure, title in ((True, "Sure"), (False, "Check first: within a change-over")):
        mine = [each for each in answer.units if each.sure is sure]
        if mine:
            heading(console, title)
            columns(console, ("model", "series", "numbers", "casting"), _rows(mine, names))
    sources = dict.fromkeys(bracketed(names.reference(s.source, s.page, s.grade)).strip() for each in answer.units for s in each.sources)
    if sources:
        heading(console, screens.BECAUSE)
        for cited in sources:
            point(console, "-", cited)


def _rows(found: Sequence[UnitRange], names: Names) -> list[tuple[str, str, str, str]]:
    """A row for each stretch and variant, its places together."""
    places: dict[tuple[str, str, str, str], list[str]] = {}
    for each in found:
        variant = names.variant(each.variant) if each.variant else ""
        key = (names.model(each.model), names.series(each.series), span(each.serial_first, each.serial_last), variant)
        places.setdefault(key, []).append(each.place)
    return [(*key[:3], at(key[3], ", ".join(dict.fromkeys(filter(None, mine)))).strip()) for key, mine in places.items()]
