"""The joint posterior against walking every cell, own number, donor and casting; docs/model.md, sections 7 and 8."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from kb.probability.inference.assembly import Assembly, Casting, Dated, OwnNumber, kernel
from kb.probability.inference.posterior import MakerPosterior

RNG = np.random.default_rng(7)
U, X = 3, 4  # cells of units, cells of own numbers
PLACES = {"head": ["left", "right"], "case": [""], "cover": [""]}
VARIANTS = {"head": 1, "case": 2, "cover": 1}
BY_OWN = {"head": False, "case": True, "cover": False}
ASSEMBLY = {"head": "engine", "case": "engine", "cover": "frame"}
SWAPPED = 0.1


def rows(count: int, width: int) -> np.ndarray:
    table = RNG.random((count, width))
    return table / table.sum(1, keepdims=True)


BUILT = {c: rows(X if BY_OWN[c] else U, VARIANTS[c] + 1) for c in PLACES}
KERNEL = {c: kernel(rows(1, VARIANTS[c])[0], 0.2, 0.05) for c in PLACES}
SEEN = {(c, p): RNG.random(VARIANTS[c] + 1) for c in PLACES for p in PLACES[c]}
DONORS = rows(1, U)[0]
GROUP = np.array([0, 1, 0])
TRANSITION = rows(2, X)
READING = RNG.random(X)
BASE = RNG.random(U)


def maker(dates: dict[str, dict[str, Dated]] | None = None) -> MakerPosterior:
    def casting(c: str) -> Casting:
        return Casting(c, lambda: BUILT[c], KERNEL[c], {p: SEEN[c, p] for p in PLACES[c]}, BY_OWN[c], (dates or {}).get(c, {}))

    engine = Assembly((casting("head"), casting("case")), DONORS, SWAPPED, OwnNumber(GROUP, TRANSITION, READING))
    frame = Assembly((casting("cover"),), DONORS, SWAPPED)
    return MakerPosterior(BASE, {"engine": engine, "frame": frame}, ASSEMBLY)


SPOTS = [(c, p) for c in PLACES for p in PLACES[c]]


Dates = dict[str, dict[str, Dated]]


def histories(
    assembly: str, u: int, dates: Dates | None = None, original: tuple[str, str] | None = None
) -> Iterator[tuple[float, int, dict[str, int], dict[tuple[str, str], int], bool]]:
    """Every way an assembly can have come to be as it is: probability, own number read, as built where it came from, what is fitted.

    Yields (probability, x, {component: as built there}, {spot: fitted}, swapped). original: only those in which the dated casting there left the
    works in this unit.
    """

    def fits(c: str, p: str, built: int, fitted: int, cell: int) -> float:
        dated = (dates or {}).get(c, {}).get(p)
        if dated is None:
            return float(KERNEL[c][built, fitted])
        same = dated.original * (built == fitted) * dated.in_time[cell]
        return float(same if (c, p) == original else same + (KERNEL[c][built, fitted] - dated.original * (built == fitted)) * dated.later)

    components = [c for c in PLACES if ASSEMBLY[c] == assembly]
    spots = [s for s in SPOTS if s[0] in components]
    origins = [(1 - SWAPPED, u, False)] + [(SWAPPED * DONORS[d], d, True) for d in range(U)]
    for p_origin, origin, swapped in origins:
        numbers = [(TRANSITION[GROUP[origin], x], x) for x in range(X)] if assembly == "engine" else [(1.0, 0)]
        for p_number, x in numbers:
            for built in product(*(range(VARIANTS[c] + 1) for c in components)):
                o = dict(zip(components, built, strict=True))
                p_built = np.prod([BUILT[c][x if BY_OWN[c] else origin, o[c]] for c in components])
                for fitted in product(*(range(VARIANTS[c] + 1) for c, _ in spots)):
                    v = dict(zip(spots, fitted, strict=True))
                    p_fitted = np.prod([fits(c, p, o[c], v[c, p], x if BY_OWN[c] else origin) * SEEN[c, p][v[c, p]] for c, p in spots])
                    p_reading = READING[x] if assembly == "engine" else 1.0
                    yield p_origin * p_number * p_built * p_fitted * p_reading, x, o, v, swapped


def weight(assembly: str, u: int, dates: Dates | None = None) -> float:
    return sum(h[0] for h in histories(assembly, u, dates))


def test_mass_is_the_sum_over_all_histories() -> None:
    expected = [BASE[u] * weight("engine", u) * weight("frame", u) for u in range(U)]
    assert maker().mass == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("spots", [[("head", "left")], [("head", "right"), ("case", "")], [("cover", ""), ("head", "right"), ("head", "left")]])
def test_table_splits_the_mass_by_what_is_fitted(spots: list[tuple[str, str]]) -> None:
    table = maker().table(spots)
    expected = np.zeros(table.shape)
    for u in range(U):
        for engine in histories("engine", u):
            for frame in histories("frame", u):
                fitted = engine[3] | frame[3]
                expected[(u, *(fitted[s] for s in spots))] += BASE[u] * engine[0] * frame[0]
    assert table == pytest.approx(expected, rel=1e-10)


def test_table_splits_the_mass_by_parts_of_the_own_number() -> None:
    parts = np.array([[1.0, 0, 1, 0], [0, 1.0, 0, 1]])
    table = maker().table([("cover", ""), ("case", "")], x_parts={"engine": parts})
    expected = np.zeros(table.shape)
    for u in range(U):
        for engine in histories("engine", u):
            for frame in histories("frame", u):
                expected[u, frame[3]["cover", ""], engine[3]["case", ""], engine[1] % 2] += BASE[u] * engine[0] * frame[0]
    assert table == pytest.approx(expected, rel=1e-10)


def test_an_own_number_is_split_by_what_is_fitted_now() -> None:
    """Of the engine in the frame today, whichever unit it came from; summed over all cells of the unit."""
    expected = np.zeros(X)
    for u in range(U):
        for probability, x, *_ in histories("engine", u):
            expected[x] += probability
    assert maker().assemblies["engine"].own_numbers() == pytest.approx(expected, rel=1e-10)


DATES = {
    "head": {"left": Dated(0.7, np.array([0.9, 0.2, 0.4]), 0.3), "right": Dated(0.8, np.array([0.1, 0.6, 0.5]), 0.7)},
    "case": {"": Dated(0.6, np.array([0.3, 0.8, 0.5, 0.1]), 0.2)},
}  # by cells of the unit, and of the engine's number


@pytest.mark.parametrize("dates", [{"head": DATES["head"]}, {"case": DATES["case"]}, DATES])
def test_casting_dates_count_where_the_casting_was_built_in(dates: Dates) -> None:
    posterior = maker(dates)
    assert posterior.mass == pytest.approx([BASE[u] * weight("engine", u, dates) * weight("frame", u) for u in range(U)], rel=1e-10)
    for spot in SPOTS:
        table, engine = posterior.table([spot]), ASSEMBLY[spot[0]] == "engine"
        expected = np.zeros(table.shape)
        for u in range(U):
            for probability, _, _, v, _ in histories("engine" if engine else "frame", u, dates):
                expected[u, v[spot]] += probability * BASE[u] * (weight("frame", u) if engine else weight("engine", u, dates))
        assert table == pytest.approx(expected, rel=1e-10)
    for component, places in dates.items():
        for place in places:
            kept = [BASE[u] * weight("frame", u) * sum(h[0] for h in histories("engine", u, dates, (component, place)) if not h[4]) for u in range(U)]
            assert posterior.original((component, place)) == pytest.approx(kept, rel=1e-10)


@pytest.mark.parametrize("unrecorded", [0.0, 0.1])
def test_what_is_fitted_by_hand(unrecorded: float) -> None:
    """Two variants, one in five replaced, three quarters of the replacements the second variant."""
    expected = (1 - unrecorded) * np.array([[0.8 + 0.05, 0.15, 0], [0.05, 0.8 + 0.15, 0], [0.05, 0.15, 0.8]])
    expected[:, 2] += unrecorded
    found = kernel(np.array([0.25, 0.75]), 0.2, unrecorded)
    assert found == pytest.approx(expected, abs=1e-12)
    assert found.sum(1) == pytest.approx(1)


def test_tables_are_split_by_the_numbers_of_two_assemblies_at_once() -> None:
    """A second engine in the frame, with a number of its own that has nothing to do with the first: the unit links them."""
    one = maker()
    second = Assembly(
        tuple(replace(casting, component=f"other {casting.component}") for casting in one.assemblies["engine"].castings), DONORS, SWAPPED,
        OwnNumber(np.array([1, 1, 0]), TRANSITION[:, ::-1].copy(), READING[::-1].copy()),
    )  # fmt: skip
    of = {**ASSEMBLY, **{f"other {c}": "second" for c in PLACES if ASSEMBLY[c] == "engine"}}
    both = MakerPosterior(BASE, {**one.assemblies, "second": second}, of)
    first_parts, second_parts = np.array([[1.0, 0.3, 1, 0], [0, 0.7, 0, 1]]), np.eye(X)
    place, other = ("case", ""), ("other head", "left")
    alone = MakerPosterior(np.ones(U), {"second": second}, of)
    mine, its = one.table([place], x_parts={"engine": first_parts}), alone.table([other], x_parts={"second": second_parts})
    expected = np.einsum("uvp,uwq->uwvpq", mine, its)  # given the unit, one engine tells nothing of the other
    assert both.table([other, place], x_parts={"engine": first_parts, "second": second_parts}) == pytest.approx(expected, rel=1e-10)
    swapped = both.table([other, place], x_parts={"second": second_parts, "engine": first_parts})
    assert swapped == pytest.approx(np.swapaxes(expected, 3, 4), rel=1e-10)


@pytest.mark.parametrize("by_x", [np.array([[1.0, 0, 1, 0], [0, 1.0, 0, 1]]), np.array([[0.3, 0.2, 0.9, 0.5], [0.7, 0.8, 0.1, 0.5]])])
def test_a_table_by_what_was_built_is_split_by_parts_of_the_own_number(by_x: np.ndarray) -> None:
    """Of a swapped engine both are the unit's own, as it left the works: what is seen on the one that is there now tells nothing of them."""
    table = maker().table([("case", ""), ("cover", "")], built=True, x_parts={"engine": by_x})
    expected = np.zeros(table.shape)
    for u in range(U):
        for engine in histories("engine", u):
            for frame in histories("frame", u):
                weight = BASE[u] * engine[0] * frame[0]
                cover = np.eye(2)[frame[2]["cover"]] if not frame[4] else BUILT["cover"][u]
                if engine[4]:
                    case = np.einsum("x,xv,px->vp", TRANSITION[GROUP[u]], BUILT["case"], by_x)
                else:
                    case = np.outer(np.eye(3)[engine[2]["case"]], by_x[:, engine[1]])
                expected[u] += weight * np.einsum("vp,c->vcp", case, cover)
    assert table == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("component", list(PLACES))
def test_as_built_is_of_the_unit_itself_even_if_the_assembly_was_swapped(component: str) -> None:
    table = maker().table([(component, "")], built=True)
    other = "frame" if ASSEMBLY[component] == "engine" else "engine"
    expected = np.zeros(table.shape)
    for u in range(U):
        own_prior = TRANSITION[GROUP[u]] @ BUILT[component] if BY_OWN[component] else BUILT[component][u]
        for probability, _, o, _, swapped in histories(ASSEMBLY[component], u):
            if swapped:
                expected[u] += probability * own_prior * BASE[u] * weight(other, u)
            else:
                expected[u, o[component]] += probability * BASE[u] * weight(other, u)
    assert table == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("spot", SPOTS)
def test_kept_is_the_chance_that_what_is_fitted_is_what_was_built(spot: tuple[str, str]) -> None:
    component = spot[0]
    other = "frame" if ASSEMBLY[component] == "engine" else "engine"
    expected = 0.0
    for u in range(U):
        own_prior = TRANSITION[GROUP[u]] @ BUILT[component] if BY_OWN[component] else BUILT[component][u]
        for probability, _, o, v, swapped in histories(ASSEMBLY[component], u):
            same = own_prior[v[spot]] if swapped else float(o[component] == v[spot])
            expected += probability * same * BASE[u] * weight(other, u)
    assert maker().totals(spot).kept == pytest.approx([expected], rel=1e-10)


@pytest.mark.parametrize("dated", [False, True])
@pytest.mark.parametrize("spot", SPOTS)
def test_totals_are_sums_of_the_tables(spot: tuple[str, str], dated: bool) -> None:
    """Of all cells, and of some for each of two sums; casting dates on the one side of the head touch what is said of the other."""
    dates = {"head": {"left": Dated(0.7, RNG.random(U), 0.3)}, "case": {"": Dated(0.6, RNG.random(X), 0.2)}} if dated else {}
    posterior = maker(dates)
    parts = np.array([[1.0, 0, 1], [0, 1.0, 0]])
    fitted, built = posterior.table([spot]), posterior.table([(spot[0], "")], built=True)
    some = posterior.totals(spot, parts)
    assert some.fitted == pytest.approx(parts @ fitted, rel=1e-12)
    assert some.built == pytest.approx(parts @ built, rel=1e-12)
    assert posterior.totals(spot).fitted == pytest.approx(fitted.sum(0, keepdims=True), rel=1e-12)
    assert posterior.totals(spot).kept == pytest.approx([some.kept.sum()], rel=1e-12)


def test_figures_of_exact_elimination() -> None:
    """Cells .2 .5 .3, new built 0 .6 1, rho .1 among two variants, mark .9 / .1, feature .7 / .1; figures of pgmpy's VariableElimination."""
    built = np.array([[1.0, 0, 0], [0.4, 0.6, 0], [0, 1.0, 0]])
    fitted = kernel(np.array([0.5, 0.5]), 0.1, 0.0)
    seen = np.array([0.1 * 0.1, 0.9 * 0.7, 0.0])
    case = Casting("case", lambda: built, fitted, {"": seen})
    base = np.array([0.2, 0.5, 0.3]) * np.array([0.02, 0.3, 0.6])
    posterior = MakerPosterior(base, {"a": Assembly((case,), np.full(3, 1 / 3), 0.0)}, {"case": "a"})
    assert posterior.mass / posterior.mass.sum() == pytest.approx([0.00099785, 0.34297918, 0.65602297], abs=5e-9)


@pytest.mark.parametrize("marks", [1, 2, 3])
def test_a_mark_read_somewhere_is_summed_over_its_places(marks: int) -> None:
    """Against putting every mark on every place in turn, with dates, an own number and what else was seen there."""
    loose = {c: tuple(RNG.random(VARIANTS[c] + 1) for _ in range(marks)) for c in PLACES}
    dates = {"head": {"left": Dated(0.7, RNG.random(U), 0.3)}}

    def posterior(put: tuple[tuple[str, str], ...] | None) -> MakerPosterior:
        def casting(c: str) -> Casting:
            seen = {p: SEEN[c, p] * np.prod([loose[c][i] for i, spot in enumerate(put or ()) if spot == (c, p)], axis=0) for p in PLACES[c]}
            return Casting(c, lambda: BUILT[c], KERNEL[c], seen, BY_OWN[c], dates.get(c, {}), loose[c] if put is None else ())

        engine = Assembly((casting("head"), casting("case")), DONORS, SWAPPED, OwnNumber(GROUP, TRANSITION, READING))
        frame = Assembly((casting("cover"),), DONORS, SWAPPED)
        return MakerPosterior(BASE, {"engine": engine, "frame": frame}, ASSEMBLY)

    ours, each = posterior(None), [posterior(put) for put in product(SPOTS, repeat=marks)]
    parts, numbers = np.array([[1.0, 0, 1], [0, 1.0, 0]]), np.array([[1.0, 0, 1, 0], [0, 1.0, 0, 1]])
    assert ours.mass == pytest.approx(sum(one.mass for one in each), rel=1e-10)
    assert ours.original(("head", "left")) == pytest.approx(sum(one.original(("head", "left")) for one in each), rel=1e-10)
    for spot in SPOTS:
        for of in ("fitted", "built", "kept"):
            expected = sum(getattr(one.totals(spot, parts), of) for one in each)
            assert getattr(ours.totals(spot, parts), of) == pytest.approx(expected, rel=1e-10)
    for table in (
        lambda one: one.table([("cover", ""), ("case", ""), ("head", "right")], x_parts={"engine": numbers}),
        lambda one: one.table([("head", ""), ("cover", ""), ("case", "")], built=True),
    ):
        assert table(ours) == pytest.approx(sum(map(table, each)), rel=1e-10)
