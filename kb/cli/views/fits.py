"""Whether a part fits, and which parts fit, as text (`kb fits`, `kb parts`)."""

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from kb.cli.views.layout import VERDICT_STYLES, at, cautions, checks, columns, heading, line, number, open_bits, point, probability, source
from kb.words.answers import Fit

ORDER = ("fits", "check first", "not recorded", "does not fit")


def fits(answer: Sequence[Fit], console: Console) -> None:
    """One part: a verdict for every place, what to order, what to look at, and why."""
    for position, fit in enumerate(answer):
        if position:
            console.print()
        _one(console, fit)
    cautions(console, list(dict.fromkeys(caution for fit in answer for caution in fit.cautions)))


def _one(console: Console, fit: Fit) -> None:
    where = f" on {at(fit.component, fit.place)}" if fit.component else ""
    line(console, (fit.verdict.upper(), f"bold {VERDICT_STYLES[fit.verdict]}"), f"  {fit.part_number}, {fit.description}{where}", indent=0)
    if fit.component:
        line(console, f"{fit.role}; {fit.quantity:g} per {fit.per}. That it fits: {probability(fit.probability)}.")
        if fit.against >= 0.005:
            line(console, f"That it does not: {probability(fit.against)}.")
    if fit.measure_first:
        line(console, ("Measure before ordering: ", "bold"), fit.measure_first)
    if fit.current:
        heading(console, "Can be bought today")
        rows = [
            (c.part_number, f"{c.quantity:g}", Text(c.verdict, style=VERDICT_STYLES[c.verdict]), number(c.probability)) for c in fit.current
        ]
        columns(console, ("", "quantity", "", ""), rows, right=(1, 3))
    elif fit.component:
        line(console, "Nothing of it can be bought today.")
    checks(console, "Look at first", fit.check_next, open_bits([fit.probability, fit.against, max(0.0, 1 - fit.probability - fit.against)]))
    if fit.because or fit.sources:
        heading(console, "Because")
        for reason in fit.because:
            point(console, "-", reason)
        for cited in fit.sources:
            line(console, source(cited.source, cited.page, cited.grade).strip())


def parts(answer: Sequence[Fit], console: Console) -> None:
    """All parts, by verdict: what fits first; where something must be checked, the first thing to look at."""
    if not answer:
        line(console, "No part is recorded that fits.", indent=0)
    for verdict in ORDER:
        mine = [fit for fit in answer if fit.verdict == verdict]
        if mine:
            heading(console, verdict.capitalize())
            columns(console, ("part", "what", "for", "order", ""), [_row(fit) for fit in mine], right=(4,))
            for fit in mine if verdict == "check first" else ():
                what = fit.measure_first or (fit.check_next[0].check if fit.check_next else "")
                if what:
                    point(console, "-", f"{fit.part_number}, {at(fit.component, fit.place)}: {what}")
    cautions(console, list(dict.fromkeys(caution for fit in answer for caution in fit.cautions)))


def _row(fit: Fit) -> tuple[str, ...]:
    """A row of the list. What is to be ordered: the numbers that ship, with those that would not fit named so."""
    order = [
        f"{c.quantity * fit.quantity:g} x {c.part_number}" + (f" ({c.verdict})" if c.verdict != fit.verdict else "") for c in fit.current
    ]
    where = f"{fit.role}, {at(fit.component, fit.place)}" if fit.component else ""
    return (fit.part_number, fit.description, where, "; ".join(order) or "not to be had", number(fit.probability))
