"""One record per file of the dataset folder, in the order in which the files build on each other.

`TABLES` is the list; `kb.words.records.columns` says what each column holds. From it come the SQLite schema, the Table Schema of
datapackage.json and the column tables of docs/data.md.
"""

from kb.words.records.breakpoints import Breakpoint
from kb.words.records.components import Component, Option, Variant
from kb.words.records.date_codes import DateCode
from kb.words.records.features import Feature, FeatureValue
from kb.words.records.fitments import Fitment, FitmentCondition
from kb.words.records.makers import Maker, Model
from kb.words.records.marks import Mark
from kb.words.records.parts import Content, Dimension, Part
from kb.words.records.pictures import Picture
from kb.words.records.procedures import Procedure, Step, StepPart
from kb.words.records.record import Record
from kb.words.records.series import Affix, Block, BlockModel, Series
from kb.words.records.sightings import ConfirmedReading, Sighting
from kb.words.records.sources import Source
from kb.words.records.supersessions import Supersession
from kb.words.records.trade import Offer, Outcome

_IN_ORDER: tuple[type[Record], ...] = (
    Source, Maker, Model, Series, Affix, Block, BlockModel, Component, Variant, Option, Mark, Feature, FeatureValue, Breakpoint,
    Sighting, Part, Dimension, Content, Fitment, FitmentCondition, Supersession, DateCode, Procedure, Step, StepPart, Picture,
    ConfirmedReading, Offer, Outcome,
)  # fmt: skip
TABLES: dict[str, type[Record]] = {record.table: record for record in _IN_ORDER}

__all__ = [
    "TABLES", "Affix", "Block", "BlockModel", "Breakpoint", "Component", "ConfirmedReading", "Content", "DateCode", "Dimension", "Feature",
    "FeatureValue", "Fitment", "FitmentCondition", "Maker", "Mark", "Model", "Offer", "Option", "Outcome", "Part", "Picture", "Procedure",
    "Record", "Series", "Sighting", "Source", "Step", "StepPart", "Supersession", "Variant",
]  # fmt: skip
