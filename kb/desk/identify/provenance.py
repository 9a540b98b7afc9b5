"""Where a loose casting came from, as far as that is known: which castings are left, and how likely each is (docs/model.md, section 11)."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kb.desk.evidence.names import components_named, maker_of
from kb.desk.posterior.examination import Examination
from kb.desk.posterior.maker_model import MakerModel
from kb.probability.production.cell_table import CellTable
from kb.probability.production.layout import Lines
from kb.probability.production.limits import NOTHING, stretches
from kb.store.book import Book
from kb.store.rows import ComponentRow
from kb.words.applicability import Limit
from kb.words.errors import QuestionError
from kb.words.evidence import Evidence

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Told:
    """What somebody says of it; empty is nothing. serial_from, serial_to: whole serials between which that of the unit lies."""

    maker: str = ""
    component: str = ""
    model: str = ""
    serial_from: str = ""
    serial_to: str = ""


class Provenance:
    """The makers, components and units left.

    Attributes:
        makers: their ids.
        said: what was said, by name, with ids.
    """

    def __init__(self, book: Book, frame: Callable[[str], MakerModel], examine: Callable[[Evidence], Examination], told: Told) -> None:
        """frame, examine: of a maker, and of units.

        Raises:
            QuestionError: a name is not known, or the names do not go together.
        """
        self.book, self.frame, self._examine, self._told = book, frame, examine, told
        maker, model = maker_of(book, told.maker, told.model)
        self.makers = [m for m in book.makers if maker in ("", m)]
        self._named = components_named(book, self.makers, told.component) if told.component else {}
        self.makers = list(self._named) or self.makers
        component = ";".join(row.component_id for row in self._named.values())
        said = {"maker": maker, "component": component, "model": model, "serial_from": told.serial_from, "serial_to": told.serial_to}
        self.said = {name: text for name, text in said.items() if text}

    @cached_property
    def anywhere(self) -> "Provenance":
        """The same with nothing said."""
        return Provenance(self.book, self.frame, self._examine, Told())

    @cached_property
    def components(self) -> list[ComponentRow]:
        """The components left."""
        return list(self._named.values()) or [c for m in self.makers for c in self.frame(m).components.values()]

    @cached_property
    def likely(self) -> Mapping[str, Mapping[str, float]]:
        """component -> variant -> P(a casting of the units left is of both), up to a common factor; empty where nothing was said of the units.

        Raises:
            QuestionError: no such units are recorded.
            DataError: a serial stands nowhere, or the two stand in different lines or the wrong way round.
        """
        if not {"model", "serial_from", "serial_to"} & self.said.keys():
            return {}
        found = self._examine(Evidence(model=self.said.get("model"), maker=self.said.get("maker")))
        cells = {maker: self.frame(maker).u for maker in self.makers}
        inside = _inside(cells, self._told.serial_from, self._told.serial_to)
        shares: dict[str, Mapping[str, float]] = {}
        for maker, posterior in found.posterior.makers.items():
            mine = [c for c in self.components if c.maker_id == maker]
            if mine and float(posterior.mass @ inside[maker]) > 0:
                scale = found.posterior.scale[maker] / sum(len(c.places) for c in mine)
                for c in mine:
                    fitted = posterior.totals((c.component_id, c.places[0]), inside[maker][None]).fitted[0] * len(c.places) * scale
                    names = [v.variant_id for v in self.book.variants_of.get(c.component_id, ())]
                    shares[c.component_id] = dict(zip(names, fitted.tolist(), strict=False))  # the last is the unrecorded one
        if not shares:
            raise QuestionError("No unit is recorded of which all this is true.", "Leave out the model or the serials.")
        return shares


def _inside(cells: Mapping[str, CellTable], serial_from: str, serial_to: str) -> dict[str, Floats]:
    """maker -> (cells,) the share of each cell's units that lies between two serials, both included."""
    if not (serial_from or serial_to):
        return {maker: np.ones(len(u.units)) for maker, u in cells.items()}
    left = stretches(Lines(line for u in cells.values() for line in u.lines), Limit(None, serial_from or None, serial_to or None))
    inside = {}
    for maker, u in cells.items():
        ends = [left.get(line.line_id, NOTHING) for line in u.lines]
        low, high = np.array([(end.low, end.high) for end in ends], dtype=np.int64).reshape(-1, 2)[u.line].T
        count = u.last - u.first + 1
        inside[maker] = np.clip(np.minimum(high, u.orders + count - 1) - np.maximum(low, u.orders) + 1, 0, None) / count
    return inside
