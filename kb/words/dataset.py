"""A dataset in memory: the rows of every file, checked one by one but not yet against each other."""

import gc
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from kb.words import records as r


@dataclass(frozen=True)
class Dataset:
    """One attribute per file, named after it; rows in file order."""

    sources: "tuple[r.Source, ...]" = ()
    makers: "tuple[r.Maker, ...]" = ()
    models: "tuple[r.Model, ...]" = ()
    series: "tuple[r.Series, ...]" = ()
    affixes: "tuple[r.Affix, ...]" = ()
    blocks: "tuple[r.Block, ...]" = ()
    block_models: "tuple[r.BlockModel, ...]" = ()
    components: "tuple[r.Component, ...]" = ()
    variants: "tuple[r.Variant, ...]" = ()
    options: "tuple[r.Option, ...]" = ()
    marks: "tuple[r.Mark, ...]" = ()
    features: "tuple[r.Feature, ...]" = ()
    feature_values: "tuple[r.FeatureValue, ...]" = ()
    breakpoints: "tuple[r.Breakpoint, ...]" = ()
    sightings: "tuple[r.Sighting, ...]" = ()
    parts: "tuple[r.Part, ...]" = ()
    dimensions: "tuple[r.Dimension, ...]" = ()
    contents: "tuple[r.Content, ...]" = ()
    fitments: "tuple[r.Fitment, ...]" = ()
    fitment_conditions: "tuple[r.FitmentCondition, ...]" = ()
    supersessions: "tuple[r.Supersession, ...]" = ()
    date_codes: "tuple[r.DateCode, ...]" = ()
    procedures: "tuple[r.Procedure, ...]" = ()
    steps: "tuple[r.Step, ...]" = ()
    step_parts: "tuple[r.StepPart, ...]" = ()
    pictures: "tuple[r.Picture, ...]" = ()
    readings: "tuple[r.ConfirmedReading, ...]" = ()
    offers: "tuple[r.Offer, ...]" = ()
    outcomes: "tuple[r.Outcome, ...]" = ()

    @classmethod
    def of(cls, rows: "Mapping[str, Iterable[r.Record]]") -> "Dataset":
        """A dataset from its rows by table; every row must be a record of its table."""
        given: dict[str, Any] = {table: tuple(records) for table, records in rows.items()}
        return cls(**given)

    def tables(self) -> "Iterator[tuple[str, tuple[r.Record, ...]]]":
        """(table, rows) in file order."""
        for each in fields(self):
            yield each.name, getattr(self, each.name)


@contextmanager
def many_rows() -> Iterator[None]:
    """Half a million rows hold no circular references; having the garbage collector look for some again and again takes longer than reading them."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
