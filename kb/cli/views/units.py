"""Which units a part fits, as text (`kb units`)."""

from rich.console import Console

from kb.cli.views.layout import columns, heading, line, point, source, span
from kb.words.answers import UnitRange, UnitsAnswer


def units(answer: UnitsAnswer, console: Console) -> None:
    """The sentence for a listing, and the stretches behind it."""
    line(console, answer.sentence, indent=0)
    for sure, title in ((True, "Sure"), (False, "Check first: within a change-over")):
        mine = [each for each in answer.units if each.sure is sure]
        if mine:
            heading(console, title)
            columns(console, ("model", "series", "numbers", "casting"), [_row(each) for each in mine])
    sources = dict.fromkeys(source(s.source, s.page, s.grade).strip() for each in answer.units for s in each.sources)
    if sources:
        heading(console, "Because")
        for cited in sources:
            point(console, "-", cited)


def _row(each: UnitRange) -> tuple[str, str, str, str]:
    casting = each.variant + (f" ({each.place})" if each.place else "")
    return (each.model, each.series, span(each.serial_first, each.serial_last), casting.strip())
