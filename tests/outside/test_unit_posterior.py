"""The unit posterior as a Bayesian network: what the unit is, what was built, what is fitted, swapped assemblies and an engine with its own number.

Oracle: pgmpy 1 (MIT), exact variable elimination on the network that docs/model.md, sections 6 to 8, describes: nodes for the cell, the swap of
each assembly and its donor, the own number, every component as built and every place as fitted; what was seen is a child of what is fitted.
"""

from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from kb.probability.inference.assembly import Assembly, Casting, OwnNumber, kernel
from kb.probability.inference.posterior import MakerPosterior

Table = NDArray[np.float64]
CELLS, NUMBERS = 3, 3
VARIANTS = {"head": 2, "case": 1, "cover": 2}
PLACES = {"head": ("left", "right"), "case": ("",), "cover": ("",)}
ASSEMBLY = {"head": "engine", "case": "engine", "cover": "frame"}
BY_OWN_NUMBER = "case"
SPOTS = [(component, place) for component, places in PLACES.items() for place in places]


class Unit:
    """The numbers of one random case."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(seed)

        def rows(count: int, width: int) -> Table:
            table = rng.random((count, width)) ** 3  # some near certainty, some not
            return table / table.sum(axis=1, keepdims=True)

        self.prior, self.donors = rows(1, CELLS)[0], rows(1, CELLS)[0]
        self.serial = rng.random(CELLS)
        self.swapped = float(rng.uniform(0.01, 0.3))
        self.number, self.number_read = rows(CELLS, NUMBERS), rng.random(NUMBERS)
        self.built = {c: rows(NUMBERS if c == BY_OWN_NUMBER else CELLS, v + 1) for c, v in VARIANTS.items()}
        self.kernel = {c: kernel(rows(1, v)[0], float(rng.uniform(0.02, 0.3)), 0.02) for c, v in VARIANTS.items()}
        self.seen = {(c, p): rng.random(VARIANTS[c] + 1) for c, p in SPOTS}


def ours(unit: Unit) -> MakerPosterior:
    def casting(c: str) -> Casting:
        return Casting(c, lambda: unit.built[c], unit.kernel[c], {p: unit.seen[c, p] for p in PLACES[c]}, c == BY_OWN_NUMBER)

    own = OwnNumber(np.arange(CELLS), unit.number, unit.number_read)
    engine = Assembly((casting("head"), casting("case")), unit.donors, unit.swapped, own)
    frame = Assembly((casting("cover"),), unit.donors, unit.swapped)
    return MakerPosterior(unit.prior * unit.serial, {"engine": engine, "frame": frame}, ASSEMBLY)


def theirs(unit: Unit) -> VariableElimination:
    """The network. States are numbered as in our arrays."""
    tables = [TabularCPD("unit", CELLS, unit.prior[:, None])]

    def child(name: str, given: str, table: Table) -> None:
        """P(name | given), a row of `table` for each state of `given`."""
        tables.append(TabularCPD(name, table.shape[1], table.T, [given], [len(table)]))

    def seen(name: str, given: str, likelihood: Table) -> None:
        """State 1: it was seen."""
        child(name, given, np.stack([1 - likelihood, likelihood], axis=1))

    seen("serial seen", "unit", unit.serial)
    for assembly in ("engine", "frame"):
        tables.append(TabularCPD(f"{assembly} swapped", 2, [[1 - unit.swapped], [unit.swapped]]))
        tables.append(TabularCPD(f"{assembly} donor", CELLS, unit.donors[:, None]))
        columns = [(donor if swapped else own) for own, swapped, donor in product(range(CELLS), range(2), range(CELLS))]
        origin = np.eye(CELLS)[:, columns]
        tables.append(TabularCPD(f"{assembly} from", CELLS, origin, ["unit", f"{assembly} swapped", f"{assembly} donor"], [CELLS, 2, CELLS]))
    child("number", "engine from", unit.number)
    seen("number seen", "number", unit.number_read)
    for c in VARIANTS:
        child(f"{c} built", "number" if c == BY_OWN_NUMBER else f"{ASSEMBLY[c]} from", unit.built[c])
        for p in PLACES[c]:
            child(f"{c} {p} fitted", f"{c} built", unit.kernel[c])
            seen(f"{c} {p} seen", f"{c} {p} fitted", unit.seen[c, p])
    network = DiscreteBayesianNetwork([(parent, cpd.variable) for cpd in tables for parent in cpd.variables[1:]])
    network.add_cpds(*tables)
    assert network.check_model()
    return VariableElimination(network)


SEEN = {"serial seen": 1, "number seen": 1, **{f"{c} {p} seen": 1 for c, p in SPOTS}}


def asked(network: VariableElimination, *variables: str) -> Table:
    """The joint posterior of some nodes, axes in the order asked for."""
    found = network.query(list(variables), evidence=SEEN, show_progress=False)
    axes = [found.variables.index(name) for name in variables]
    return np.asarray(found.values).transpose(axes)


@pytest.mark.parametrize("seed", range(5))
def test_unit_and_castings_are_those_of_exact_elimination(seed: int) -> None:
    unit = Unit(seed)
    mine, network = ours(unit), theirs(unit)
    total = mine.mass.sum()
    assert mine.mass / total == pytest.approx(asked(network, "unit"), rel=1e-9)
    for c, p in SPOTS:
        assert mine.table([(c, p)]) / total == pytest.approx(asked(network, "unit", f"{c} {p} fitted"), rel=1e-9)
    both = mine.table([("head", "left"), ("head", "right")]) / total
    assert both == pytest.approx(asked(network, "unit", "head left fitted", "head right fitted"), rel=1e-9)
    across = mine.table([("case", ""), ("cover", "")]) / total
    assert across == pytest.approx(asked(network, "unit", "case  fitted", "cover  fitted"), rel=1e-9)
    parts = mine.table([], x_parts={"engine": np.eye(NUMBERS)}) / total
    assert parts == pytest.approx(asked(network, "unit", "number"), rel=1e-9)
