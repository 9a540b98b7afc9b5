"""The private files of a shop: what is on offer, and what became of a sale."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field, StringConstraints

from kb.words.records.record import DateText, Name, Number, Record, Says, Slug, Stamped, Text

Currency = Annotated[
    str, StringConstraints(pattern="^[A-Z]{3}$"), Says("Not a currency code.", "Write the three capital letters of ISO 4217, as in EUR.")
]


class Offer(Record):
    """One row of offers.csv: a part that a supplier offers."""

    table: ClassVar[str] = "offers"
    key: ClassVar[tuple[str, ...]] = ("offer_id",)
    private_table: ClassVar[bool] = True

    offer_id: Slug = Field(description="Id of the offer.")
    part_number: Stamped = Field(description="The part.")
    supplier: Name = Field(description="Who offers it.")
    their_number: Name | None = Field(None, description="The supplier's own number for it.")
    condition: Literal["new old stock", "used", "reproduction", "reconditioned"] = Field(description="Its condition.")
    price: Annotated[float, Number(0)] | None = Field(None, description="The price of one.")
    currency: Currency | None = Field(None, description="The currency of the price: EUR.")
    as_of: DateText = Field(description="When the offer was seen.")


class Outcome(Record):
    """One row of outcomes.csv: a part that was fitted or came back."""

    table: ClassVar[str] = "outcomes"
    key: ClassVar[tuple[str, ...]] = ("outcome_id",)
    private_table: ClassVar[bool] = True

    outcome_id: Slug = Field(description="Id of the outcome.")
    part_number: Stamped = Field(description="The part.")
    component_id: Slug | None = Field(None, description="The component it was for.")
    series_id: Slug | None = Field(None, description="The series of the unit's serial.")
    serial: Stamped | None = Field(None, description="The unit's serial.")
    variant_id: Slug | None = Field(None, description="The variant it was fitted to.")
    result: Literal["fitted", "returned"] = Field(description="Whether it was fitted or came back.")
    reason: Text | None = Field(None, description="Why it came back.")
    on: DateText | None = Field(None, description="When that happened.")
