"""What a unit is, as text (`kb identify`)."""

from rich.console import Console
from rich.text import Text

from kb.cli.views.layout import WORTH_A_LINE, bracketed, cautions, checks, columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.dating import likely_built
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import asked_of_unit, likely, number, span
from kb.words.answers.identification import FittedEntry, Identification, Reason, UnitEntry

MOST_UNITS = 5  # of those that are possible at all the first few are enough on a screen; JSON has them all
MOST_SERIALS = 5


def identification(answer: Identification, console: Console, names: Names) -> None:
    """The unit, its castings, what to look at next, and why."""
    if answer.unknown:
        line(console, (screens.NOT_HERE, "bold"), screens.not_here_line(answer.not_in_knowledge_base).removeprefix(screens.NOT_HERE), indent=0)
        if answer.units:
            heading(console, screens.IF_HERE)
    shown = [unit for unit in answer.units[:MOST_UNITS] if unit is answer.units[0] or unit.probability >= WORTH_A_LINE]
    for unit in shown:
        _unit(console, unit, names)
    further = answer.rest + sum(unit.probability for unit in answer.units[len(shown) :])
    if further > 0.00005:  # display
        line(console, screens.further_blocks(further), indent=0)
    if not answer.unknown:
        line(console, screens.not_here_line(answer.not_in_knowledge_base), indent=0)
    serials = [(s.serial, names.model(s.model), number(s.probability)) for s in answer.serials[:MOST_SERIALS] if s.probability >= WORTH_A_LINE]
    if serials:
        heading(console, "Serial")
        columns(console, ("", "", ""), serials, right=(2,))
    if answer.fitted:
        heading(console, screens.CASTINGS)
        columns(console, (screens.WHERE, screens.FITTED, "", screens.AS_BUILT, ""), [_fitted(entry) for entry in answer.fitted], right=(2, 4))
    if answer.dates:
        heading(console, screens.CASTING_DATES)
        for date in answer.dates:
            point(console, "-", f"{date.name}: {date.says}")
    if answer.conflicts:
        heading(console, screens.DISAGREES)
        for conflict in answer.conflicts:
            point(console, "!", conflict)
    if answer.cannot_tell:
        heading(console, screens.CANNOT_TELL)
        for each in answer.cannot_tell:
            point(console, "!", each)
    checks(console, screens.LOOK_NEXT, answer.check_next, asked_of_unit(answer))
    if answer.because:
        heading(console, screens.BECAUSE)
        for reason in answer.because:
            _reason(console, reason, names)
    cautions(console, answer.cautions)
    if answer.assumptions:
        heading(console, screens.ASSUMED)
        for name, value in answer.assumptions.items():
            point(console, "-", f"{name}: {value}")


def _unit(console: Console, unit: UnitEntry, names: Names) -> None:
    line(console, (unit.name, "bold"), f": {likely(unit.probability)}", indent=0)
    built = span(unit.built_from, unit.built_to)
    line(console, screens.unit_line(unit.serial_first, unit.serial_last, names.series(unit.series), names.block(unit.block), built, unit.dates_are))
    if unit.serial_first == unit.serial_last and unit.likely_from:
        line(console, likely_built(unit.likely_from, unit.likely_to, unit.dates_are))


def _fitted(entry: FittedEntry) -> tuple[str | Text, ...]:
    """A row of the castings; "replaced since" only where that is more likely than not."""
    there = Text(entry.variant_name)
    if entry.swapped:
        there.append(f" ({screens.REPLACED})", style="bold")
    return (entry.name, there, number(entry.probability), entry.as_built_name, number(entry.as_built_probability))


def _reason(console: Console, reason: Reason, names: Names) -> None:
    weight = f"  ({reason.weight_bits:+.1f} bits)"
    point(console, "-", f"{reason.evidence}: {reason.says}{bracketed(names.reference(reason.source, reason.page))}", (weight, "dim"))
