"""A question about a unit, as advice sees it: which answers it has, and what each thing that can be looked at has to do with them."""

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kb.probability.inference.assembly import Spot
from kb.probability.inference.posterior import MakerPosterior

Floats = NDArray[np.float64]
ANYWHERE: Spot = ("", "")  # stands for the place of a mark that was read somewhere on the unit


class Target(Protocol):
    """A question with finitely many answers, and how they depend on what can be looked at. All arrays are joint probabilities."""

    @property
    def places(self) -> Sequence[Spot | None]:
        """The places that a question put place by place is put for, where a serial is looked at; (None,) for one that is put once."""
        ...

    def labels(self, spot: Spot | None) -> list[str]:
        """The answers in words; spot: the place looked at, by which a question put place by place has its answers, or ANYWHERE; None: a serial."""
        ...

    def by_spot(self, maker: str, spot: Spot) -> Floats:
        """(answers, V+2): by the variant fitted at a place; the last entry is everything the maker's recorded units do not explain. Sums to 1."""
        ...

    def by_fitted(self, maker: str, spot: Spot, posterior: MakerPosterior, of: Spot) -> Floats:
        """(answers, V+1): by the variant fitted at a place, under a posterior for units of that maker, to whose scale it is.

        of: the spot that `labels` are of, this one or ANYWHERE.
        """
        ...

    def by_cells(self, maker: str, of: Spot | None = None) -> Floats:
        """(answers, u cells): by the cell of a maker's units, of any maker that the unit may be of. Sums to P(unit of this maker).

        of: the spot that `labels` are of.
        """
        ...

    def by_own_number(self, maker: str, assembly: str, parts: Floats) -> Floats | None:
        """(answers, parts): by what the number that an assembly of the maker's units carries makes of each; None where that cannot be told.

        parts: (parts, x cells) P(part | x). The sum is P(unit of this maker), or any share of it.
        """
        ...
