"""What a unit is, as text (`kb identify`)."""

from rich.console import Console
from rich.text import Text

from kb.cli.views.layout import WORTH_A_LINE, cautions, checks, columns, heading, line, point, probability, source
from kb.desk.sentences.dating import likely_built
from kb.desk.sentences.numbers import asked_of_unit, number, span
from kb.words.answers.identification import FittedEntry, Identification, Reason, UnitEntry

MOST_UNITS = 5  # of those that are possible at all the first few are enough on a screen; JSON has them all
MOST_SERIALS = 5


def identification(answer: Identification, console: Console) -> None:
    """The unit, its castings, what to look at next, and why."""
    if answer.unknown:
        line(console, ("Not in this knowledge base", "bold"), f": {probability(answer.not_in_knowledge_base)}.", indent=0)
        if answer.units:
            heading(console, "If it is in it after all")
    shown = [unit for unit in answer.units[:MOST_UNITS] if unit is answer.units[0] or unit.probability >= WORTH_A_LINE]
    for unit in shown:
        _unit(console, unit)
    further = answer.rest + sum(unit.probability for unit in answer.units[len(shown) :])
    if further > 0.00005:  # display
        line(console, f"Further blocks together: {number(further)}.", indent=0)
    if not answer.unknown:
        line(console, f"Not in this knowledge base: {probability(answer.not_in_knowledge_base)}.", indent=0)
    serials = [(s.serial, s.model, number(s.probability)) for s in answer.serials[:MOST_SERIALS] if s.probability >= WORTH_A_LINE]
    if serials:
        heading(console, "Serial")
        columns(console, ("", "", ""), serials, right=(2,))
    if answer.fitted:
        heading(console, "Castings")
        columns(console, ("where", "what is there", "", "left the works with", ""), [_fitted(entry) for entry in answer.fitted], right=(2, 4))
    if answer.dates:
        heading(console, "Casting dates")
        for date in answer.dates:
            point(console, "-", f"{date.name}: {date.says}")
    if answer.conflicts:
        heading(console, "Does not go together")
        for conflict in answer.conflicts:
            point(console, "!", conflict)
    if answer.cannot_tell:
        heading(console, "Cannot be told from these readings")
        for each in answer.cannot_tell:
            point(console, "!", each)
    checks(console, "Look at next", answer.check_next, asked_of_unit(answer))
    if answer.because:
        heading(console, "Because")
        for reason in answer.because:
            _reason(console, reason)
    cautions(console, answer.cautions)
    if answer.assumptions:
        heading(console, "Assumed otherwise than usual")
        for name, value in answer.assumptions.items():
            point(console, "-", f"{name}: {value}")


def _unit(console: Console, unit: UnitEntry) -> None:
    line(console, (unit.name, "bold"), f": {probability(unit.probability)}", indent=0)
    built = span(unit.built_from, unit.built_to)
    stretch = span(unit.serial_first, unit.serial_last)
    line(console, f"{unit.series} no. {stretch}, block {unit.block}" + (f", {built}" if built else ""))
    if unit.serial_first == unit.serial_last and unit.likely_from:
        line(console, likely_built(unit.likely_from, unit.likely_to, unit.dates_are))


def _fitted(entry: FittedEntry) -> tuple[str | Text, ...]:
    """A row of the castings; "replaced since" only where that is more likely than not."""
    there = Text(entry.variant_name)
    if entry.swapped:
        there.append(" (replaced since?)", style="bold")
    return (entry.name, there, number(entry.probability), entry.as_built_name, number(entry.as_built_probability))


def _reason(console: Console, reason: Reason) -> None:
    weight = f"  ({reason.weight_bits:+.1f} bits)"
    point(console, "-", f"{reason.evidence}: {reason.says}{source(reason.source, reason.page)}", (weight, "dim"))
