"""What is said of a fitment, in words: its rules, their conditions and limits, and for whose unit it holds."""

from collections.abc import Sequence

from kb.assumptions import Assumptions
from kb.desk.sentences.names import place_name, variant_name
from kb.desk.sentences.numbers import likely
from kb.desk.sentences.sources import cited
from kb.probability.catalogue.fitments import Rule
from kb.probability.inference.costs import thresholds
from kb.store.book import Book
from kb.store.rows import PartRow
from kb.words.applicability import Applicability, Condition, Limit


def rule_reasons(book: Book, rules: Sequence[Rule], many: Sequence[float]) -> list[str]:
    """The rules that an answer rests on, the weightiest first. many: the quantities they ask for, where these differ."""
    reasons = [f"{rule_words(book, rule)}{cited(book, rule.source_id, rule.page)}" for rule in rules[:3]]
    return [*reasons, f"How many depends on the casting: {' or '.join(f'{q:g}' for q in many)}."] if many else reasons


def holds_here(yes: float) -> str:
    """How the reasons begin where a part fits, or may.

    >>> holds_here(0.97)
    'Holds here, very likely (0.97): '
    """
    return f"Holds here, {likely(yes)}: "


def not_holding(book: Book, part: PartRow, spot: tuple[str, str], no: float, reasons: Sequence[str]) -> str:
    """Why a part is not said to fit at one place, by the reasons that are recorded for it."""
    where = place_name(book, *spot)
    if no >= 0.5:  # display
        instead = f"For {where} of this unit something else is recorded: {likely(no)}"
        return f"{instead}; {part.part_number} is for: {'; '.join(reasons)}"
    return f"Recorded for {part.part_number}: {'; '.join(reasons)}. Nothing recorded says whether it fits {where} of this unit."


WHO_MADE_IT = "Find out who made the unit: its plate, or a name cast on the frame"


def if_of_maker(maker: str, probability: float, others: Sequence[tuple[str, float]]) -> str:
    """For which maker's unit a verdict holds, where it may be of several.

    >>> if_of_maker("Quenby", 0.55, [("Ordish", 0.41)])
    'This is for a unit of Quenby (0.55); it may also be of Ordish (0.41).'
    """
    return f"This is for a unit of {maker} ({probability:.2f}); it may also be of {' or '.join(f'{name} ({p:.2f})' for name, p in others)}."


def rule_words(book: Book, rule: Rule) -> str:
    """A fitment rule as a phrase."""
    words = [f"{rule.role} of {place_name(book, rule.component_id, rule.applies.place or '')}"]
    words += applies_words(book, rule.applies, rule.component_id)
    words += [f"only if: {rule.proviso}"] if rule.proviso else []
    text = ", ".join(filter(None, words))
    text = text if rule.fits else f"does not fit: {text}"
    return f"{text} (taken over from {rule.inherited_from}, which it replaces)" if rule.inherited_from else text


def applies_words(book: Book, applies: Applicability, component_id: str) -> list[str]:
    """Where a fitment or a step applies, in phrases. component_id: the one it is about, which need not be named."""
    words = [condition_words(book, component_id, condition) for condition in applies.conditions]
    return [*words, *(book.models[model].name for model in applies.models), *(limit_words(book, limit) for limit in applies.limits)]


def condition_words(book: Book, component_id: str, condition: Condition) -> str:
    """A condition of something about a component, as a phrase."""
    elsewhere = "" if condition.component_id == component_id else f"{place_name(book, condition.component_id, condition.place or '')} "
    if condition.variant_id:
        return f"{elsewhere}{variant_name(book, condition.variant_id)}"
    feature = book.features[condition.feature_id or ""]
    wanted = condition.value if condition.value is not None else span_words(condition.low, condition.high, feature.unit or "mm")
    return f"{elsewhere}{feature.question} {wanted}"


def span_words(low: float | None, high: float | None, unit: str) -> str:
    """A range of a measure.

    >>> span_words(34.8, 35.1, "mm"), span_words(None, 35.1, "mm")
    ('34.8 to 35.1 mm', 'up to 35.1 mm')
    """
    if low is None:
        return f"up to {high:g} {unit}"
    return f"{low:g} {unit} or more" if high is None else f"{low:g} to {high:g} {unit}"


def limit_words(book: Book, limit: Limit) -> str:
    """A limit as the trade prints it."""
    series = f"{book.series[limit.series_id].name} " if limit.series_id else "serial "
    if limit.serial_from and limit.serial_to:
        return f"{series}{limit.serial_from} to {limit.serial_to}"
    if limit.serial_from:
        return f"{series}{limit.serial_from} and higher"
    return f"{series}{limit.serial_to} and lower" if limit.serial_to else series.strip()


def no_fitment(book: Book, part: PartRow, maker_id: str | None) -> str:
    """No rule about this part at this maker."""
    of = f" for units of {book.makers[maker_id].name}" if maker_id else ""
    return f"Nothing is recorded{of} about where {part.part_number} ({part.description}) fits."


def needed_together(old: str, new: str, needed: Sequence[str]) -> str:
    """A new number that does not do alone."""
    return f"In the place of {old}, {new} needs {' and '.join(needed)} with it."


def recorded_elsewhere(places: Sequence[str]) -> str:
    """Where a part fits that nothing is recorded about for this unit: perhaps the wrong make was named.

    >>> recorded_elsewhere(["Pellwether, pump cover"])
    'It is recorded for: Pellwether, pump cover.'
    """
    more = f" and {len(places) - 3} more" if len(places) > 3 else ""
    return f"It is recorded for: {'; '.join(places[:3])}{more}."


def stated_costs(assumptions: Assumptions) -> str:
    """What verdicts assume of costs; "" where nobody stated any.

    >>> stated_costs(Assumptions().override(return_cost=40.0, sale_value=20.0))
    'Assumed: a return costs 40, a sale brings 20, asking first costs 1. So "fits" from 0.975 on (safety-critical 0.99), "does not fit" from 0.95 on.'
    """
    if assumptions.return_cost is None or assumptions.sale_value is None:
        return ""
    usual, critical = thresholds(assumptions, safety_critical=False), thresholds(assumptions, safety_critical=True)
    return (
        f"Assumed: a return costs {assumptions.return_cost:g}, a sale brings {assumptions.sale_value:g}, "
        f"asking first costs {assumptions.asking_share * assumptions.sale_value:g}. "
        f'So "fits" from {usual.fits:.3g} on (safety-critical {critical.fits:.3g}), "does not fit" from {usual.does_not_fit:.3g} on.'
    )
