"""From evidence and probabilities to sentences. The only place where answers get their words."""

from collections.abc import Sequence
from datetime import date

from kb.desk.evidence.resolved import ResolvedObservation
from kb.probability.channel.reading import Reading
from kb.store.book import Book, Row
from kb.words.dates import spell
from kb.words.edtf import Span

_IN_WORDS = (
    (0.995, "almost certain"),
    (0.97, "very likely"),
    (0.85, "about nine in ten"),
    (0.7, "about three in four"),
    (0.58, "about two in three"),
    (0.42, "about even"),
    (0.29, "about one in three"),
    (0.15, "about one in five"),
    (0.05, "about one in ten"),
    (0.005, "unlikely"),
    (0.0, "almost ruled out"),
)


def chance(probability: float) -> str:
    """A probability in words.

    >>> chance(0.91), chance(0.5), chance(0.001)
    ('about nine in ten', 'about even', 'almost ruled out')
    """
    return next(words for least, words in _IN_WORDS if probability >= least)


def spot_name(book: Book, component_id: str, place: str) -> str:
    """A component place as a heading: "Cylinder cover (left)"."""
    name = str(book.components[component_id].name)
    return f"{name} ({place})" if place else name


def place_name(book: Book, component_id: str, place: str) -> str:
    """The component as one would say it: "the cylinder cover (left)"."""
    name = book.components[component_id].name.lower()
    return f"the {name} ({place})" if place else f"the {name}"


def of_maker(book: Book, component_id: str) -> str:
    """A component with its maker: "Pellwether, pump cover"."""
    component = book.components[component_id]
    return f"{book.makers[component.maker_id].name}, {component.name.lower()}"


def variant_name(book: Book, variant_id: str) -> str:
    """A variant's name; "" is one that is not recorded here."""
    return book.variants[variant_id].name if variant_id else "a casting not recorded here"


def match_name(book: Book, component_id: str, variants: Sequence[str]) -> str:
    """What a mark is found on."""
    if not component_id:
        return "foundry or inspection mark: tells no variant"
    return f"{book.components[component_id].name}: {' or '.join(variant_name(book, v) for v in variants)}"


def claim_words(row: Row) -> str:
    """What a breakpoint says, without its source."""
    if row.first_new and row.first_new_to:
        return f"new from one of {row.first_new} to {row.first_new_to} on"
    if row.first_new and row.last_old:
        return f"old up to {row.last_old}, new from {row.first_new} on"
    if row.first_new:
        return f"new from {'about ' if row.about else ''}{row.first_new} on"
    if row.last_old:
        return f"old up to {row.last_old} at least"
    return f"changed in {row.when}" if row.when else "changed, not said when"


def changeover_name(book: Book, component_id: str, old: str, new: str) -> str:
    """A change-over as one would say it."""
    return f"{book.components[component_id].name}: {variant_name(book, old)} to {variant_name(book, new)}"


def model_name(book: Book, maker_id: str, model_id: str) -> str:
    """A model as one would say it, with its maker where another maker has a model of that name."""
    maker = book.makers[maker_id].name
    if not model_id:
        return f"{maker}, model not recorded"
    name = book.models[model_id].name
    shared = sum(model.name == name for model in book.models.values()) > 1
    return f"{maker} {name}" if shared else str(name)


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


def swapped(book: Book, component_id: str, place: str, fitted: str, built: str) -> str:
    """A casting that is not the one the unit left the works with."""
    where = place_name(book, component_id, place).capitalize()
    return f"{where} is {variant_name(book, fitted)}, but the unit should have left the works with {variant_name(book, built)}: replaced since?"


def step_applies(judged: Sequence[tuple[str, str, float]]) -> str:
    """Whether a step is one for a unit; judged: state, place, probability.

    >>> step_applies([("do", "left", 0.98), ("not", "right", 0.01)])
    'Left: the step is for this unit (0.98). Right: the step is not for this unit (0.01).'
    """
    words = {"do": "the step is for this unit", "not": "the step is not for this unit", "undecided": "whether the step is for this unit is open"}
    if not judged:
        return "The step is for another maker's unit."
    told = [f"{place}: {words[state]} ({yes:.2f})." if place else f"{words[state]} ({yes:.2f})." for state, place, yes in judged]
    return " ".join(f"{text[:1].upper()}{text[1:]}" for text in told)


def no_step(book: Book, component_id: str, place: str) -> str:
    """A casting that no recorded step is for."""
    return (
        f"No step is recorded for the casting that is probably fitted as {place_name(book, component_id, place)}: it is none of those that the "
        "steps are for. Stop there, and ask before going on."
    )


def cast_outside(cast: str, variant: str, made: str, after: bool) -> str:
    """A casting date outside the time in which units left the works with that variant."""
    how = "after the last unit that left the works with" if after else "before the first unit that left the works with"
    return f"cast {cast}, {how} {variant} ({made}): {'a service replacement?' if after else 'read the date and the number again'}"


def cast_or(says: str, others: Sequence[str], more: bool) -> str:
    """What a casting date says, with the other times that the code may well mean."""
    return f"{says} (the code may also mean {', '.join(others)}{' and more' if more else ''})" if others else says


def cast_undated(cast: str) -> str:
    """A casting date on a unit whose block has no dates."""
    return f"cast {cast}; no dates are recorded for the unit"


def dated_conflict(name: str, says: str, not_original: float) -> str:
    """A casting that by its date does not belong to the unit."""
    anyway = "That it is the first one all the same, the code misread or the recorded dates wrong"
    return f"{name[:1].upper()}{name[1:]}: {says} {anyway}: {chance(1 - not_original)} ({1 - not_original:.2f})."


def two_units(serial: str, unit: str, castings: Sequence[str], other: str) -> str:
    """The serial and several castings tell different units: what may have happened, and never whose fault it is."""
    listed = f"{', '.join(castings[:-1])} and {castings[-1]}"
    return (
        f"The number reads as {serial}, {unit}; {listed} by themselves suit {other}. Possibly the number was stamped again when a casting "
        "was exchanged, or castings of another unit were built in: both were ordinary repairs. Look for an older number below the stamping, "
        "and for the papers of the unit."
    )


def likely_built(first: str, last: str, dates_are: str) -> str:
    """When a unit was probably built, by where its number stands in the block.

    >>> likely_built("1931-03-07", "1931-11-20", "built")
    'by its number probably built between 7 March 1931 and 20 November 1931'
    """
    event = {"shipped": "shipped", "registered": "first registered", "model year": "of the model year"}.get(dates_are, "built")
    days = [spell(Span(day, day)) for day in (date.fromisoformat(first), date.fromisoformat(last))]
    return f"by its number probably {event} between {days[0]} and {days[1]}"


def unit_of_time(name: str, built: str, dates_are: str) -> str:
    """A unit with the time of its block, worded by what the block's dates are."""
    event = {"shipped": "shipped", "registered": "first registered", "model year": "model year"}.get(dates_are, "built")
    return f"{name} ({event} {built})" if built else name


def not_here(probability: float) -> str:
    """The unit is probably none that this knowledge base has."""
    why = "a number outside the known blocks, another maker, or a misreading"
    return f"The evidence suits no unit recorded here ({chance(probability)}, {probability:.2f}): {why}."


def speaks_against(text: str, bits: float) -> str:
    """A piece of evidence that contradicts the answer."""
    return f"{text} speaks against the answer ({-bits:.1f} bits). Look at it again."


def safety(names: list[str]) -> str:
    """The caution for safety-critical components."""
    return (
        f"Safety-critical: {', '.join(names)}. A number that matches says nothing about cracks, wear or earlier repairs. "
        "Have the part examined by a qualified person and follow local codes before the machine runs."
    )


def component_caution(component: Row) -> str:
    """The caution that goes with a verdict about a safety-critical component."""
    return safety([component.name])


def look(book: Book, feature: Row, component_id: str, place: str) -> str:
    """A feature to look at, as something to do."""
    where = book.components[component_id].where_to_look
    verb = "Measure" if feature.kind == "measure" else "Look at"
    return f"{verb} {place_name(book, component_id, place)}: {feature.question}" + in_brackets(where)


def read_mark(book: Book, component_id: str, place: str) -> str:
    """A mark not yet read, as something to do."""
    where = book.components[component_id].where_to_look
    return f"Clean and read the casting number of {place_name(book, component_id, place)}" + in_brackets(where)


def look_at_casting(book: Book, component_id: str, place: str) -> str:
    """A casting of which nothing was looked at yet, as something to do: its easiest feature, else its mark."""
    features = sorted(book.features_of.get(component_id, ()), key=lambda feature: feature.effort)
    return look(book, features[0], component_id, place) if features else read_mark(book, component_id, place) + "."


def in_brackets(sentence: str | None) -> str:
    """A remark at the end of a sentence, or "".

    >>> in_brackets("Number cast on top.")
    ' (number cast on top)'
    """
    return f" ({sentence[0].lower()}{sentence[1:].rstrip('.')})" if sentence else ""


def reread(position: int, reading: Reading, where: str) -> str:
    """A character that could not be read, as something to do."""
    return f"Clean and re-read the {ordinal(position)} character of {reading} ({where})"


def reread_whole(readings: Sequence[Reading], where: str) -> str:
    """A number that could not be read, as something to do."""
    texts = list(dict.fromkeys(map(str, readings)))
    where_first, open_ones = (", first where its readings differ", "they leave") if len(texts) > 1 else ("", "it leaves")
    return f"Clean and re-read the whole number{where_first}: {', '.join(texts)} ({where}; {open_ones} too much open to name one character)"


def ordinal(number: int) -> str:
    """1st, 2nd, 3rd, 4th ...

    >>> [ordinal(n) for n in (1, 2, 3, 11, 22)]
    ['1st', '2nd', '3rd', '11th', '22nd']
    """
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def means(label: str, probability: float) -> str:
    """What an outcome would mean."""
    return f"{label}, {chance(probability)} ({probability:.2f})"


def cited(book: Book, source_id: str | None, page: str | None) -> str:
    """A reference in brackets, or ""."""
    if not source_id or source_id not in book.sources:
        return ""
    return f" [{book.sources[source_id].title}{', ' + page_words(page) if page else ''}]"


def page_words(page: str) -> str:
    """A page reference as it is printed.

    >>> page_words("25"), page_words("plate 3")
    ('p. 25', 'plate 3')
    """
    return f"p. {page}" if page[:1].isdigit() else page


def stretch_words(first: str, last: str) -> str:
    """A stretch of serials, both ends included; one serial alone is said once."""
    return first if first == last else f"{first} to {last}"


def number_of_component(book: Book, text: str, series: Row) -> str:
    """A serial that is a number of a component."""
    return f'{text} is a number of the series "{series.name}", of {place_name(book, series.component_id, "")}: ask with {series.series_id}={text}.'


def two_serials(texts: Sequence[str]) -> str:
    """Readings that cannot both be the serial."""
    return f"{' and '.join(texts)} cannot both be the serial of one unit: read it again, or leave one out."
