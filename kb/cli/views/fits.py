"""Whether a part fits, and which parts fit, as text (`kb fits`, `kb parts`)."""

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from kb.cli.views.layout import VERDICT_STYLES, at, bracketed, cautions, checks, columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import asked_of_fit, number
from kb.desk.trade.part_lines import ORDER, PartLine, part_lines
from kb.words.answers.fitment import Fit


def fits(answer: Sequence[Fit], console: Console, names: Names) -> None:
    """One part: a verdict for every place, what to order, what to look at, and why."""
    for position, fit in enumerate(answer):
        if position:
            console.print()
        _one(console, fit, names)
    cautions(console, list(dict.fromkeys(caution for fit in answer for caution in fit.cautions)))
    _assumed(console, answer)


def _assumed(console: Console, answer: Sequence[Fit]) -> None:
    for words in dict.fromkeys(fit.assumed for fit in answer if fit.assumed):
        console.print()
        line(console, words, indent=0)


def _one(console: Console, fit: Fit, names: Names) -> None:
    where = f": {fit.name}" if fit.name else ""
    line(console, (fit.verdict.upper(), f"bold {VERDICT_STYLES[fit.verdict]}"), f"  {fit.part_number}, {fit.description}{where}", indent=0)
    if fit.component:
        against = f" {screens.against_chance(fit.against)}" if fit.against >= 0.005 else ""  # display
        line(console, f"{screens.part_for(fit.role, fit.quantity, fit.per)} {screens.fits_chance(fit.probability)}{against}")
    if fit.outcomes:
        line(console, screens.sold_before(fit.outcomes))
    if fit.measure_first:
        line(console, (f"{screens.MEASURE_FIRST} ", "bold"), fit.measure_first)
    if fit.current:
        heading(console, screens.TO_BUY)
        rows = [(c.part_number, f"{c.quantity:g}", Text(c.verdict, style=VERDICT_STYLES[c.verdict]), number(c.probability)) for c in fit.current]
        columns(console, ("", "quantity", "", ""), rows, right=(1, 3))
    elif fit.component:
        line(console, screens.NOTHING_TO_BUY)
    for note in fit.notes:
        line(console, note)
    checks(console, screens.LOOK_FIRST, fit.check_next, asked_of_fit(fit))
    if fit.because or fit.sources:
        heading(console, screens.BECAUSE)
        for reason in fit.because:
            point(console, "-", reason)
        for cited in fit.sources:
            line(console, bracketed(names.reference(cited.source, cited.page, cited.grade)).strip())


def parts(answer: Sequence[Fit], console: Console) -> None:
    """All parts, by verdict: what fits first; where something must be checked, the first thing to look at."""
    if not answer:
        line(console, screens.NO_PART_FITS, indent=0)
    lines = part_lines(answer)
    for verdict in ORDER:
        mine = [each for each in lines if each.fit.verdict == verdict]
        if mine:
            heading(console, verdict.capitalize())
            columns(console, ("part", "what", "for", "order", ""), [_row(each) for each in mine], right=(4,))
            if verdict == "check first":
                for what, numbers in _checks(mine).items():
                    point(console, "-", f"{what}  ", (f"(for {', '.join(numbers)})", "dim"))
    cautions(console, list(dict.fromkeys(caution for fit in answer for caution in fit.cautions)))
    _assumed(console, answer)


def _checks(found: Sequence[PartLine]) -> dict[str, list[str]]:
    """What to measure or look at first -> the part numbers that wait for it."""
    waiting: dict[str, list[str]] = {}
    for fit in [fit for each in found for fit in each.entries]:
        where = f"Measure, {fit.name}: {fit.measure_first}" if fit.measure_first else ""
        what = where or (fit.check_next[0].check if fit.check_next else "")
        if what and fit.part_number not in waiting.setdefault(what, []):
            waiting[what].append(fit.part_number)
    return waiting


def _row(part: PartLine) -> tuple[str, ...]:
    """A row of the list. What is to be ordered: the numbers that ship, for all places, those that would not fit named so."""
    fit = part.fit
    order = [f"{count} x {ships.part_number}" + (f" ({ships.verdict})" if ships.verdict != fit.verdict else "") for count, ships in part.order]
    where = f"{fit.role}, {at(part.component, part.places)}" if part.component else ""
    return (fit.part_number, fit.description, where, "; ".join(order) or screens.NO_LONGER, number(min(each.probability for each in part.entries)))
