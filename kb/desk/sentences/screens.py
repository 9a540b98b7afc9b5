"""What terminal, page and paper say in the same words: headings, short lines, and what stands where there is nothing to show."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from kb.desk.sentences.numbers import likely, many, number, span
from kb.words.dates import EVENTS

if TYPE_CHECKING:
    from kb.words.answers.review import MixedWidth

# Headings
NOT_HERE = "Not in this knowledge base"
IF_HERE = "If it is recorded after all"
CASTINGS = "Castings"
CASTING_DATES = "Casting dates"
DISAGREES = "Does not go together"
CANNOT_TELL = "Cannot be told from what was read"
LOOK_NEXT = "Look at next"
LOOK_FIRST = "Look at first"
BECAUSE = "Because"
TAKE_CARE = "Take care"
ASSUMED = "Assumed, other than usual"
TO_BUY = "Can be bought today"
ASK_CUSTOMER = "Ask the customer"
ORDER_UNIT = "Order for the whole unit"
GOES_WITH_IT = "Goes with it"
DISPUTES = "Disputes"
BY_WEAR = "By wear"
MISREADINGS = "Misreadings learned"
COMES_TRUE = "Does what is stated come true?"

# Columns
WHERE = "where"
FITTED = "what is on it now"
AS_BUILT = "left the works with"
REPLACED = "replaced since?"

# Short lines
NOT_MATCHED = "It is not matched to whatever comes nearest."
UNSURE_UNIT = "The unit is not certain."
UNDECIDED_STEPS = "Steps that depend on it are marked undecided."
NOTHING_TO_BUY = "Nothing for it can be bought today."
NO_LONGER = "no longer available"
NO_PART_FITS = "No part is recorded that fits."
NO_VARIANT = "No variant of it is recorded."
NO_CHANGEOVER = "No change-over is recorded."
MEASURE_FIRST = "Measure before ordering:"
DEAD_END = "a dead end, nothing for it can be bought today."
NOTHING_CHANGED = "Nothing changed."
DECIDE_FIRST = "Decide first:"
DEPENDS = "what follows depends on the casting."
NOT_YET = "not yet changed"
SAFETY_PART = "Safety-critical: have it examined by a qualified person and follow local codes before the machine runs."
SAFETY_CASTING = "Safety-critical: a number that matches says nothing about cracks, wear or earlier repairs. Have it examined by a qualified person."


def not_here_line(probability: float) -> str:
    """How likely it is that the thing is not recorded."""
    return f"{NOT_HERE}: {likely(probability)}."


def no_verdict(probability: float) -> str:
    """A verdict about a unit that is probably not recorded."""
    return f"The unit is probably not in this knowledge base ({number(probability)}), so no verdict can be relied on."


def sheet_not_here(probability: float) -> str:
    """The same at the head of a work sheet."""
    return f"The unit is probably not in this knowledge base, {likely(probability)}. Read number and castings again before you work by this sheet."


def unit_line(first: str, last: str, series: str, block: str, built: str, dates_are: str = "") -> str:
    """Where a unit stands in the numbers.

    >>> unit_line("105112", "105112", "mill numbers", "104101 to 106300", "1928 to 1930")
    'no. 105112 of the mill numbers, from the block 104101 to 106300, built 1928 to 1930'
    >>> unit_line("B1", "B9", "frame numbers", "B1 to B9", "")
    'no. B1 to B9 of the frame numbers'
    """
    stretch = span(first, last)
    of_block = f", from the block {block}" if block != stretch else ""
    when = f", {EVENTS[dates_are or 'built']} {built}" if built else ""
    return f"no. {stretch} of the {series}{of_block}{when}"


def further_blocks(probability: float) -> str:
    """The units that are not listed."""
    return f"All other blocks together: {number(probability)}."


def further_marks(probability: float) -> str:
    """The marks that are not listed."""
    return f"All other marks together: {number(probability)}."


def may_be(reading: str) -> str:
    """The heading of marks that a reading may be."""
    return f"{reading} may be"


def no_such_mark_here(reading: str) -> str:
    """The heading of marks near one that is not recorded."""
    return f"{reading} is not a mark recorded here. Did you mean"


def weigh_together(command: str) -> str:
    """What to ask if more than the casting can be read."""
    return f"If any of the machine's own number can be read, {command} weighs the two together."


def part_for(role: str, quantity: float, per: str) -> str:
    """What a part is at its place, and how many are needed.

    >>> part_for("seal, outer", 2, "place")
    'Seal, outer; 2 for each place.'
    """
    return f"{role[:1].upper()}{role[1:]}; {quantity:g} {'for each place' if per == 'place' else 'for the whole unit'}."


def fits_chance(probability: float) -> str:
    """How likely it is that a part fits."""
    return f"Fits: {likely(probability)}."


def against_chance(probability: float) -> str:
    """How likely it is that it does not."""
    return f"Does not fit: {likely(probability)}."


def sold_before(outcomes: str) -> str:
    """How earlier sales turned out."""
    return f"Sold before: {outcomes}."


def first_new_words(first: str, low: str, high: str, probability: float) -> str:
    """Where a change-over lies.

    >>> first_new_words("4096", "4090", "4100", 0.4)
    'First new one: nine times in ten it lies in 4090 to 4100; most likely 4096 (0.40).'
    >>> first_new_words("4096", "4096", "4096", 0.97)
    'First new one: 4096, very likely (0.97).'
    """
    if low == high:
        return f"First new one: {first or NOT_YET}, {likely(probability)}."
    within = f"in {span(low, high)}" if high else f"at {low} or later, or has not come yet among the known numbers"
    return f"First new one: nine times in ten it lies {within}; most likely {first or NOT_YET} ({number(probability)})."


def side_by_side(first: str, last: str) -> str:
    """Old and new fitted at the same time, by what was seen."""
    return f"Old and new were fitted side by side from {first} to {last}, while old stock was used up."


def old_stock(widths: "Sequence[MixedWidth]") -> str:
    """Old stock that may have been used up beside the new castings, by how many units that may have taken."""
    over = " or ".join(f"{many(each.width, 'unit')} ({number(each.probability)})" for each in widths)
    return f"Old stock may have been used up beside the new, over {over}."


def look_for(serial: str) -> str:
    """The unit whose sighting would tell most of a change-over."""
    return f"To narrow it down, look for no. {serial} or one close to it."


def then_lies(variant: str, probability: float, low: str, high: str) -> str:
    """What one casting on that unit would mean."""
    within = f"at {low}" if low == high else f"in {span(low, high)}" if high else f"at {low} or later"
    return f"with {variant} on it ({number(probability)}), the first new one lies {within}."


def sightings_counted(count: int, odd: Sequence[str]) -> str:
    """The sightings behind a change-over."""
    return f"{many(count, 'sighting')} counted" + (f"; probably replaced since: {', '.join(odd)}." if odd else ".")


def rate_told(assumed: float, likeliest: float, low: float, high: float, sightings: int) -> str:
    """How often castings were replaced: assumed, and as the sightings tell it."""
    told = f"{likeliest:.2f} (nine times in ten {low:.2f} to {high:.2f}; {many(sightings, 'sighting')})"
    return f"Castings replaced since, where nobody says: {assumed:.2f} is assumed; all sightings together say {told}."


def exponent_words(usual: float, learned: float, fitted: int) -> str:
    """What confirmed readings made of the exponent."""
    if not fitted:
        return f"The exponent on worn readings stays at {usual:g}: no worn reading of a recorded mark is among them."
    moved = "stays at" if learned == usual else f"goes from {usual:g} to"
    return f"The exponent on worn readings {moved} {learned:g}, fitted to {many(fitted, 'worn reading')} of recorded marks."


def on_average(error: float) -> str:
    """How far stated and right lie apart."""
    return f"On average the two are {number(error)} apart."


def nothing_found(text: str) -> str:
    """A search without result."""
    return f'No part "{text}" is recorded.'


def nothing_called(text: str) -> str:
    """A text that means nothing here."""
    return f"{text} is the number or name of nothing recorded here."


def more_found(count: int) -> str:
    """Results left out."""
    return f"and {many(count, 'more part', 'more parts')}: add a word or a measure."


def casting_found(castings: str) -> str:
    """What was looked for as a part is a casting number."""
    return f"It is a casting number: {castings}. Which parts fit it: kb casting."


def then_again(option: str) -> str:
    """How a second look is told to the command."""
    return f"then say what it shows, as in --again {option}"
