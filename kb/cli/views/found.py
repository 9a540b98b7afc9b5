"""Parts that were looked for, as text (`kb find`)."""

from collections.abc import Sequence

from rich.console import Console

from kb.cli.views.layout import columns, heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.names import Names
from kb.desk.sentences.numbers import number
from kb.words.answers.trade import FoundPart, OfferEntry, PartSearch

SHORT = 3  # of more parts than this, one line each


def found(answer: PartSearch, console: Console, names: Names) -> None:
    """The parts found; else what may have been meant."""
    if len(answer.parts) > SHORT:
        rows = [(part.part_number, part.description, ", ".join(part.dimensions), _to_buy(part)) for part in answer.parts]
        columns(console, ("part", "what", "measures", "can be bought today"), rows)
    else:
        for position, part in enumerate(answer.parts):
            if position:
                console.print()
            _card(console, part, names)
    if answer.more:
        line(console, screens.more_found(answer.more))
    if not answer.parts:
        line(console, (screens.nothing_found(answer.asked), "bold"), indent=0)
    for casting in answer.castings:
        point(console, "-", screens.casting_found(casting))
    if answer.near:
        heading(console, "Did you mean")
        columns(console, ("", "", "", ""), [(n.part_number, n.description, n.slip, number(n.probability)) for n in answer.near], right=(3,))


def _card(console: Console, part: FoundPart, names: Names) -> None:
    made = f", {part.made_by}" if part.made_by else ""
    line(console, (part.part_number, "bold"), f", {part.description}{made}", indent=0)
    off = f"; {part.deviation:.2g} mm off" if part.deviation else ""
    line(console, f"Found by {part.how}{off}. {part.kind.capitalize()}.")
    if part.dimensions:
        line(console, f"Measures: {', '.join(part.dimensions)}")
    for place in part.in_books:
        where = ", ".join(filter(None, [f"figure {place.figure}" if place.figure else "", f"item {place.item}" if place.item else ""]))
        line(console, f"In the book: {names.reference(place.source, place.page)}, {where} ({place.role})")
    line(console, f"{screens.TO_BUY}: {_to_buy(part)}")
    if part.contents:
        line(console, f"A kit of {'; '.join(f'{kit.quantity:g} x {kit.part_number} ({kit.description})' for kit in part.contents)}")
    for kit in part.in_kits:
        line(console, f"In the kit {kit.kit_number} ({kit.description}): {kit.quantity:g}")
    if part.outcomes:
        line(console, screens.sold_before(part.outcomes))
    offers(console, part.offers)


def offers(console: Console, found: Sequence[OfferEntry]) -> None:
    """What suppliers offer, the latest first."""
    if found:
        heading(console, "Offered")
        rows = [(o.part_number, o.supplier, o.their_number, o.condition, _price(o), o.age or o.as_of) for o in found]
        columns(console, ("part", "by", "as", "condition", "price", ""), rows, right=(4,))


def _price(offer: OfferEntry) -> str:
    return f"{offer.price:.2f} {offer.currency}".strip() if offer.price is not None else ""


def _to_buy(part: FoundPart) -> str:
    said = ", ".join(f"{c.quantity:g} x {c.part_number}" if c.quantity != 1 else c.part_number for c in part.current)
    return said or "nothing"
