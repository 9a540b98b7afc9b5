"""Parts looked for at the counter: by a number as somebody wrote it, by measures, by words, or by their place in a parts list.

What is found for certain stands in `parts`; what may only have been meant stands in `near`, and is never taken for it.
"""

import re
from collections.abc import Callable, Sequence
from datetime import date

from kb.desk.fitment.rulebook import Rulebook
from kb.desk.sentences.names import match_name
from kb.desk.sentences.trade import is_casting_number, outcomes, theirs
from kb.desk.trade import shop
from kb.probability.catalogue.dimensions import Measure, converted, deviation, parse
from kb.store import lookups
from kb.store.book import Book
from kb.store.parts import all_dimensions, dimension_names, dimensions
from kb.store.rows import PartRow
from kb.words.answers.fitment import TraceAnswer
from kb.words.answers.trade import FoundPart, NearPart, PartSearch
from kb.words.errors import QuestionError
from kb.words.notation import simplify

MOST_FOUND = 20

Traced = Callable[[str], TraceAnswer]


def find(
    book: Book, parts: Rulebook, traced: Traced, text: str, tolerance: float, figure: str = "", item: str = "", today: date | None = None
) -> PartSearch:
    """Parts for a number, measures and words, or a place in a book.

    Args:
        text: what was typed. A number that is known is that number; otherwise measures ("35 x 52 x 7") and words of the description.
        tolerance: what each measure may differ by, in mm.
        figure, item: as a parts list numbers them; "" is any.

    Raises:
        QuestionError: nothing was asked.
    """
    if not (text.strip() or figure or item):
        raise QuestionError("Nothing to look for.", 'Give a part number, measures as in "seal 35 x 52 x 7", or --figure and --item.')
    hits = _by_number(book, parts, text) if text.strip() and not (figure or item) else []
    near: list[NearPart] = []
    castings: list[str] = []
    if not hits:
        hits = _by_description(book, text, tolerance, figure, item)
    if not hits and text.strip() and not (figure or item):
        castings = carries(book, text)
        near = [
            NearPart(part_number=each.part_number, description=part.description, slip=each.slip, probability=each.probability)
            for each in parts.numbers.near(text)
            if (part := parts.part(each.part_number)) is not None
        ]
    asked = " ".join(filter(None, [text.strip(), f"figure {figure}" if figure else "", f"item {item}" if item else ""]))
    shown = [_card(book, traced, part, how, off, today) for part, how, off in hits[:MOST_FOUND]]
    return PartSearch(asked=asked, parts=shown, more=max(0, len(hits) - MOST_FOUND), near=near, castings=castings)


def otherwise(book: Book, parts: Rulebook, typed: str) -> str:
    """What a number that is no part number here is instead, as a sentence: a supplier's own number, or a casting number; "" if neither."""
    known = [theirs(part.part_number, part.description, supplier) for part, supplier in shop.under_their_number(book, parts, typed)]
    return " ".join(known or [is_casting_number(what) for what in carries(book, typed)[:3]])


def carries(book: Book, typed: str) -> list[str]:
    """The castings that carry this number, in words: people read a number off a part and take it for a part number."""
    return [match_name(book, row.component_id, [row.variant_id]) for row in lookups.variants_marked(book, simplify(typed))]


def _by_number(book: Book, parts: Rulebook, text: str) -> list[tuple[PartRow, str, float | None]]:
    found: list[tuple[PartRow, str, float | None]] = [(part, "number", None) for part in parts.asked_for(text)]
    return found or [(part, f"the number that {supplier} uses for it", None) for part, supplier in shop.under_their_number(book, parts, text)]


def _by_description(book: Book, text: str, within: float, figure: str, item: str) -> list[tuple[PartRow, str, float | None]]:
    """Parts that have all measures and all words, the nearest in measure first; within a place in a book if one is named."""
    asked, words = parse(_with_names(book, text))
    if figure or item:
        rows = lookups.parts_in_book(book, figure, item)
    else:
        rows = lookups.parts_with_words(book, words) if words else lookups.all_parts(book)
    if words and (figure or item):
        rows = [row for row in rows if all(word in simplify(row.description).lower() for word in words)]
    how = " and ".join(filter(None, ["place in the book" if figure or item else "", "measures" if asked else "", "description" if words else ""]))
    if not asked:
        return [(row, how, None) for row in rows]
    recorded = _recorded(book, rows if len(rows) < 500 else None)
    hits = []
    for row in rows:
        measures = recorded.get(row.part_number) or (parse_quietly(row.description) if re.search(r"\d\s*[x×]\s*\d", row.description) else [])
        off = deviation(asked, measures, within) if len(measures) >= len(asked) else None
        if off is not None:
            hits.append((row, how, off))
    return sorted(hits, key=lambda hit: (hit[2], hit[0].part_number))


def _with_names(book: Book, text: str) -> str:
    """A text with "width 7 mm" written as "width=7 mm", for the measures that are recorded here."""
    names = [re.escape(name) for name in dimension_names(book)]
    return re.sub(rf"\b({'|'.join(names)})\s+(?=\d)", r"\1=", text, flags=re.IGNORECASE) if names else text


def parse_quietly(text: str) -> list[Measure]:
    """The measures that a description names, at most as many as can be compared."""
    return parse(" ".join(re.findall(r"\S+", text)[:20]))[0] if len(re.findall(r"\d+", text)) <= 8 else []


def _recorded(book: Book, rows: Sequence[PartRow] | None) -> dict[str, list[Measure]]:
    """The recorded lengths by part number; rows None: of all parts."""
    found = all_dimensions(book) if rows is None else [each for row in rows for each in dimensions(book, row.part_number)]
    measures: dict[str, list[Measure]] = {}
    for each in found:
        measure = converted(each.value, each.unit, each.dimension)
        if measure is not None:
            measures.setdefault(each.part_number, []).append(measure)
    return measures


def _card(book: Book, traced: Traced, part: PartRow, how: str, off: float | None, today: date | None) -> FoundPart:
    current = traced(part.part_number).current
    return FoundPart(
        part_number=part.part_number,
        description=part.description,
        made_by=part.made_by or "",
        kind=part.kind,
        available=part.available or "unknown",
        how=how,
        deviation=None if off is None else round(off, 6),
        dimensions=shop.dimensions(book, part.part_number),
        in_books=shop.in_books(book, part.part_number),
        current=current,
        contents=shop.contents(book, part.part_number),
        in_kits=shop.in_kits(book, part.part_number),
        offers=shop.offers(book, [part.part_number, *(each.part_number for each in current)], today),
        outcomes=outcomes(book, [part.part_number]),
    )
