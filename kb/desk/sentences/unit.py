"""What is said of a unit: what each piece of evidence tells, and what does not go together."""

from collections.abc import Sequence

from kb.desk.sentences.names import block_span, block_years, model_name, place_name, variant_name
from kb.desk.sentences.numbers import likely
from kb.probability.channel.reading import Reading
from kb.store.book import Book
from kb.store.rows import FeatureRow, SeriesRow, UsedBlockRow

SUITS_NONE = "suits no unit recorded here"
ANOTHER_MAKERS_NUMBER = "is a number of another maker's component"
NO_SUCH_COMPONENT = "is of a component that this maker does not have"
DATE_ON_NO_SUCH_COMPONENT = "is on a component that this maker does not have"
NO_DATE = "is no date in this maker's layout"
WHY_NOT_HERE = "It may be a number nobody has recorded yet, another maker's machine, or a misreading."


def own_number_says(book: Book, block: UsedBlockRow) -> str:
    """What the number of a component says: the block that it is probably in."""
    years = block_years(book, block.block_id)
    return f"is one of the {book.series[block.series_id].name} {block_span(book, block.block_id)}{f', built {years}' if years else ''}"


def serial_says(book: Book, maker: str, model: str, first: str, last: str, favours: bool) -> str:
    """What a serial reading says of the most probable unit."""
    span = first if first == last else f"{first} to {last}"
    name = model_name(book, maker, model)
    return f"can be read as {span}, which is {name}" if favours else f"does not suit {name}"


def affix_says(book: Book, series_id: str, reading: Reading) -> str:
    """What meaningful letters at the ends of a reading mean, or ""."""
    text = str(reading)
    found = [
        f'"{a.affix}" means {a.means}'
        for a in book.affixes.get(series_id, ())
        if (text.startswith(a.affix.upper()) if a.at == "prefix" else text.endswith(a.affix.upper()))
    ]
    return "; ".join(found)


def mark_says(book: Book, component_id: str, place: str, variant_id: str, known: bool) -> str:
    """What a mark says of the variant at its place."""
    where = place_name(book, component_id, place)
    return f"reads as a mark of {variant_name(book, variant_id)} of {where}" if known else f"matches no mark recorded for {where}"


def no_mark_says(book: Book, component_id: str, place: str, variant_id: str) -> str:
    """What it says of the variant at a place that no mark is there."""
    return f"no mark on {place_name(book, component_id, place)}: suits {variant_name(book, variant_id)}"


def feature_says(book: Book, feature: FeatureRow, value: str | float, component_id: str, place: str, variant_id: str) -> str:
    """What a feature or measure says of the variant at its place."""
    suits = f"suits {variant_name(book, variant_id)} of {place_name(book, component_id, place)}"
    return f"{feature.question} {value}: {suits if variant_id else 'tells nothing here'}"


def replaced_since(book: Book, component_id: str, place: str, fitted: str, built: str) -> str:
    """A casting that is not the one the unit left the works with."""
    where = place_name(book, component_id, place).capitalize()
    now, then = variant_name(book, fitted), variant_name(book, built)
    return f"{where} is now the {now}; the unit should have left the works with the {then}. Replaced since?"


def may_be_two_units(serial: str, unit: str, castings: Sequence[str], other: str) -> str:
    """The serial and several castings tell different units: what may have happened, and never whose fault it is."""
    listed = f"{', '.join(castings[:-1])} and {castings[-1]}"
    return (
        f"The number reads as {serial}, {unit}; {listed} by themselves suit {other}. Possibly the number was stamped again when a casting "
        "was exchanged, or castings of another unit were built in: both were ordinary repairs. Look for an older number below the stamping, "
        "and for the papers of the unit."
    )


def not_here(probability: float) -> str:
    """The unit is probably none that this knowledge base has."""
    return f"This suits no unit recorded here: {likely(probability)}. {WHY_NOT_HERE}"


def speaks_against(text: str, bits: float) -> str:
    """A piece of evidence that contradicts the answer."""
    return f"{text} speaks against the answer ({-bits:.1f} bits). Look at it again."


def number_of_component(book: Book, text: str, series: SeriesRow) -> str:
    """A serial that is a number of a component."""
    where = place_name(book, series.component_id or "", "")
    return f'{text} is among the {series.name}, stamped on {where}: ask again with --serial "{series.name}={text}".'


def not_one_serial(texts: Sequence[str]) -> str:
    """Readings that cannot both be the serial."""
    return f"{' and '.join(texts)} cannot both be the serial of one unit: read it again, or leave one out."
