"""A part for a unit as said over the counter, as text (`kb sell`)."""

from rich.console import Console
from rich.text import Text

from kb.cli.views.found import offers
from kb.cli.views.layout import VERDICT_STYLES, cautions, columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.numbers import number
from kb.words.answers.trade import Sale


def sale(answer: Sale, console: Console) -> None:
    """Short enough to be read standing up."""
    style = f"bold {VERDICT_STYLES.get(answer.verdict, 'yellow')}"
    line(console, (answer.verdict.upper(), style), f"  {answer.part_number}, {answer.description}", indent=0)
    rows = [(fit.name, Text(fit.verdict, style=VERDICT_STYLES[fit.verdict]), number(fit.probability)) for fit in answer.fits if fit.name]
    columns(console, ("", "", ""), rows, right=(2,))
    for reason in [reason for fit in answer.fits if not fit.name for reason in fit.because]:
        line(console, reason)
    if answer.ask:
        heading(console, screens.ASK_CUSTOMER)
        line(console, answer.ask)
    if answer.order:
        heading(console, screens.ORDER_UNIT)
        columns(console, ("", "", ""), [(f"{o.quantity:g} x {o.part_number}", o.unit, o.verdict) for o in answer.order])
    elif any(fit.verdict == "fits" for fit in answer.fits):
        line(console, screens.NOTHING_TO_BUY)
    for note in dict.fromkeys(note for fit in answer.fits for note in fit.notes):
        point(console, "-", note)
    if answer.companions:
        heading(console, screens.GOES_WITH_IT)
        columns(console, ("", "", "", ""), [
            (f"{c.quantity:g} x {c.part_number}" if c.quantity else c.part_number, c.description, c.why, c.verdict) for c in answer.companions
        ])  # fmt: skip
    if answer.outcomes:
        line(console, screens.sold_before(answer.outcomes))
    offers(console, answer.offers)
    cautions(console, answer.cautions)
    if answer.assumed:
        console.print()
        line(console, answer.assumed, indent=0)
