"""What is said over the seller's counter: parts found, verdicts for a sale, stock lists, listings; as all answers are (`kb.words.answers`)."""

from pydantic import Field

from kb.words.answers.base import Answer
from kb.words.answers.fitment import Buyable, Fit, UnitRange, Verdict


class NearPart(Answer):
    """A known number that may have been meant by an unknown one."""

    part_number: str
    description: str
    slip: str = Field(description="The slip that must have been made in writing it.")
    probability: float = Field(description="Among the known numbers, each equally likely to be asked for.")


class OfferEntry(Answer):
    """What a supplier offered, and when that was."""

    part_number: str
    supplier: str
    their_number: str
    condition: str
    price: float | None
    currency: str
    as_of: str
    age: str = Field(description='How long ago that was, in words; "" when no day to count from is given.')


class KitLine(Answer):
    """A part in a kit."""

    kit_number: str
    part_number: str
    description: str = Field(description="Of the part, or of the kit where kits of a part are listed.")
    quantity: float


class PlaceInBook(Answer):
    """Where a part is in a parts list."""

    source: str
    page: str
    figure: str
    item: str
    component: str
    role: str


class FoundPart(Answer):
    """A part that was searched for, with what a seller wants to know about it."""

    part_number: str
    description: str
    made_by: str
    kind: str
    available: str
    how: str = Field(description="What it was found by.")
    deviation: float | None = Field(None, description="Sum of the differences from the measures asked for, in mm.")
    dimensions: list[str]
    in_books: list[PlaceInBook]
    current: list[Buyable]
    contents: list[KitLine]
    in_kits: list[KitLine]
    offers: list[OfferEntry]
    outcomes: str = Field(description="What came of sales, in words.")


class PartSearch(Answer):
    """Parts found by number, measures, words or place in a book (`kb find`)."""

    asked: str
    parts: list[FoundPart]
    more: int = Field(0, description="How many more parts were found.")
    near: list[NearPart] = Field(description="For a number that nobody recorded: what may have been meant; none is assumed.")
    castings: list[str] = Field(description="Castings that carry what was typed as a casting number.")


class OrderLine(Answer):
    """What to put on the order for the whole unit."""

    part_number: str
    quantity: float
    unit: str
    verdict: Verdict
    places: list[str] = Field(description='The component places it is for; "" where there is only one.')


class Companion(Answer):
    """A part that goes with the one sold."""

    part_number: str
    description: str
    quantity: float = Field(description="For the whole unit; 0 where nobody recorded how many.")
    verdict: Verdict
    why: str


class Sale(Answer):
    """A part for a unit, in words for the customer (`kb sell`)."""

    part_number: str
    description: str
    verdict: Verdict | str = Field(description='The verdict for all places, or "differs by place".')
    fits: list[Fit]
    ask: str = Field(description="The one question to put to the customer, with what each answer means.")
    order: list[OrderLine]
    companions: list[Companion]
    offers: list[OfferEntry]
    outcomes: str
    cautions: list[str]
    assumed: str = Field(description="What the verdict assumes of costs, in words.")


class Listed(Answer):
    """One line of a listing: the sentence, and the units behind it (`kb listing`)."""

    part_number: str
    description: str
    sentence: str
    units: list[UnitRange]
    error: str = ""


class Stocked(Answer):
    """What the knowledge base says about one number of a stock list (`kb stock`)."""

    asked: str
    part_number: str = Field(description='The number here; "" if it is unknown.')
    description: str
    status: str = Field(description="current, superseded, unavailable, unknown.")
    current: list[Buyable]
    fits: str = Field(description="The sentence for a listing.")
    same_as: list[str] = Field(description="Other numbers of this list for the same thing, with the reason.")
    near: list[NearPart]
    outcomes: str
