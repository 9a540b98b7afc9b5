"""What is said of a unit: what each piece of evidence tells, and what does not go together."""

from collections.abc import Sequence

from kb.desk.evidence.resolved import ResolvedObservation
from kb.desk.sentences.names import model_name, place_name, variant_name
from kb.desk.sentences.numbers import chance
from kb.probability.channel.reading import Reading
from kb.store.book import Book, Row


def serial_says(book: Book, maker: str, model: str, first: str, last: str, favours: bool) -> str:
    """What a serial reading says of the most probable unit."""
    span = first if first == last else f"{first} to {last}"
    name = model_name(book, maker, model)
    return f"can be read as {span}, which is {name}" if favours else f"does not suit {name} well"


def affix_says(book: Book, series_id: str, reading: Reading) -> str:
    """What meaningful letters at the ends of a reading mean, or ""."""
    text = str(reading)
    found = [
        f'"{a.affix}" means {a.means}'
        for a in book.affixes.get(series_id, ())
        if (text.startswith(a.affix.upper()) if a.at == "prefix" else text.endswith(a.affix.upper()))
    ]
    return "; ".join(found)


def spot_says(book: Book, piece: ResolvedObservation, component_id: str, place: str, variant_id: str, known: bool) -> str:
    """What a mark, feature or measure says of the variant at its place."""
    where, what = place_name(book, component_id, place), variant_name(book, variant_id)
    if piece.feature is not None:
        told = f"suits {what} of {where}" if variant_id else "tells nothing here"
        return f"{piece.feature.question} {piece.value}: {told}"
    if piece.reading is None:
        return f"no mark on {where}: suits {what}"
    return f"reads as a mark of {what} of {where}" if known else f"matches no mark recorded for {where}"


def replaced_since(book: Book, component_id: str, place: str, fitted: str, built: str) -> str:
    """A casting that is not the one the unit left the works with."""
    where = place_name(book, component_id, place).capitalize()
    return f"{where} is {variant_name(book, fitted)}, but the unit should have left the works with {variant_name(book, built)}: replaced since?"


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
    why = "a number outside the known blocks, another maker, or a misreading"
    return f"The evidence suits no unit recorded here ({chance(probability)}, {probability:.2f}): {why}."


def speaks_against(text: str, bits: float) -> str:
    """A piece of evidence that contradicts the answer."""
    return f"{text} speaks against the answer ({-bits:.1f} bits). Look at it again."


def number_of_component(book: Book, text: str, series: Row) -> str:
    """A serial that is a number of a component."""
    return f'{text} is a number of the series "{series.name}", of {place_name(book, series.component_id, "")}: ask with {series.series_id}={text}.'


def not_one_serial(texts: Sequence[str]) -> str:
    """Readings that cannot both be the serial."""
    return f"{' and '.join(texts)} cannot both be the serial of one unit: read it again, or leave one out."
