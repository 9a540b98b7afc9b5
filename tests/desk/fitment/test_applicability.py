"""Where rows apply: fitments, options, supersessions and steps with the same columns hold the same value and are judged alike."""

from types import SimpleNamespace
from typing import Any

import pytest

from kb import KnowledgeBase
from kb.probability.production.limits import OrderRange, orders_within, stretches
from kb.words.applicability import Applicability, Condition, Limit
from kb.words.errors import DataError
from tests.desk.fitment.quill import BOX, KNOWN, fitment, opened, part, quill

COLUMNS = ("series_id", "serial_from", "serial_to", "model_id", "variant_id")


def row(**columns: str) -> Any:
    return SimpleNamespace(**{column: columns.get(column) for column in COLUMNS})


def test_what_applies_alike_is_one_and_the_same() -> None:
    one = Applicability.of_row(row(series_id="no", serial_from="5", model_id="m", variant_id="v"), "head", "left")
    assert one is Applicability.of_row(row(series_id="no", serial_from="5", model_id="m", variant_id="v"), "head", "left")
    assert (one.place, one.limits, one.models, one.conditions) == ("left", (Limit("no", "5"),), ("m",), (Condition("head", None, "v"),))
    assert one is not Applicability.of_row(row(series_id="no", serial_from="5", model_id="m", variant_id="v"), "head")


@pytest.mark.parametrize(("columns", "limits"), [
    ({}, ()),
    ({"series_id": "", "serial_from": "", "serial_to": ""}, ()),  # empty means any
    ({"series_id": "no"}, (Limit("no"),)),
    ({"serial_to": "4500"}, (Limit(None, None, "4500"),)),
])  # fmt: skip
def test_the_limit_of_a_row(columns: dict[str, str], limits: tuple[Limit, ...]) -> None:
    assert Limit.of(row(**columns)) == limits
    assert Applicability.of_row(row(**columns), "head").limits == limits


def test_a_row_that_names_its_variant_for_something_else_has_no_condition() -> None:
    assert Applicability.of_row(row(variant_id="v"), None).everywhere  # an option: the variant is what was fitted
    further = Condition("case", None, "late")
    assert Applicability.of_row(row(variant_id="v"), "head", further=(further,)).conditions == (Condition("head", None, "v"), further)


@pytest.mark.parametrize("columns", [{"series_id": "no"}, {"serial_from": "1"}, {"serial_to": "1"}, {"model_id": "m"}, {"variant_id": "v"}])
def test_any_column_makes_it_less_than_everywhere(columns: dict[str, str]) -> None:
    assert not Applicability.of_row(row(**columns), "head").everywhere
    assert not Applicability.of("left").everywhere


def test_where_both_apply() -> None:
    mine = Applicability.of("left", (Limit("no", "5"),), ("m",), (Condition("head", None, "v"),))
    other = Applicability.of(None, (Limit("no", None, "9"),), ("m",), (Condition("case", None, "w"),))
    both = mine.joined(other)
    assert (both.place, both.limits, both.models) == ("left", (Limit("no", "5"), Limit("no", None, "9")), ("m",))
    assert both.conditions == (Condition("head", None, "v"), Condition("case", None, "w"))
    assert mine.joined(Applicability.of()) is mine
    assert mine.joined(Applicability.of(models=("n",))).models == ("m", "n")  # of two models at once is no unit


@pytest.mark.parametrize(("models", "model", "may"), [
    ((), "m", True), ((), "", True), (("m",), "m", True), (("m",), "n", False), (("m",), "", False), (("m", "n"), "m", False),
])  # fmt: skip
def test_the_models_it_may_be(models: tuple[str, ...], model: str, may: bool) -> None:
    assert Applicability.of(models=models).of_model(model) is may


# A column or two, and the share of Quill's units to which a row with them applies (tests/desk/fitment/quill.py).
ROWS = [
    ({}, 1.0),
    ({"series_id": "q-no"}, 1.0),
    ({"series_id": "q-no", "serial_to": "4"}, 0.4),
    ({"series_id": "q-no", "serial_from": "5"}, 0.6),
    ({"series_id": "q-no", "serial_from": "3", "serial_to": "3"}, 0.1),
    ({"model_id": "qb"}, 0.4),
    ({"model_id": "qa", "series_id": "q-no", "serial_from": "5"}, 0.2),
    ({"series_id": "q-e", "serial_to": "E4"}, 0.4),
    ({"series_id": "q-g", "serial_from": "G2"}, 0.75),
]


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    said = {"source_id": "book"}
    numbered = [*enumerate(columns for columns, _ in ROWS)]
    return opened(
        quill(
            parts=[part(f"P{n}") for n, _ in numbered] + [part(f"S{n}", available="no") for n, _ in numbered] + [part(f"N{n}") for n, _ in numbered],
            fitments=[fitment(f"P{n}", **columns) for n, columns in numbered] + [fitment(f"S{n}", BOX) for n, _ in numbered],
            supersessions=[
                {"supersession_id": f"s{n}", "old_part": f"S{n}", "new_part": f"N{n}", "direction": "one-way", **said, **columns}
                for n, columns in numbered
            ],
            procedures=[{"procedure_id": "work", "assembly": "engine", "title": "Work", "maker_id": "quill"}],
            steps=[
                {"step_id": f"t{n}", "procedure_id": "work", "position": n + 1, "text": f"Do {n}.", **said, **columns} for n, columns in numbered
            ],
            components=[
                {"component_id": f"q-opt{n}", "maker_id": "quill", "assembly": "options", "name": f"Option {n}", "safety_critical": "no"}
                for n, _ in numbered
            ],
            variants=[
                {"variant_id": f"{name}{n}", "component_id": f"q-opt{n}", "name": name, "how_to_tell": name, "service_share": share}
                for n, _ in numbered
                for name, share in (("opt", 0), ("else", 1))
            ],
            options=[
                {"option_id": f"x{n}", "component_id": f"q-opt{n}", "variant_id": f"opt{n}", "share": 1, **said, **columns} for n, columns in numbered
            ],
        ),
        tmp_path_factory.mktemp("rows"),
    )


@pytest.mark.parametrize("number", range(len(ROWS)))
def test_a_fitment_and_a_step_with_the_same_columns_apply_to_the_same_units(book: KnowledgeBase, number: int) -> None:
    columns, share = ROWS[number]
    (fit,) = book.fits(f"P{number}", {"maker": "quill"})
    assert fit.probability == pytest.approx(KNOWN * share, abs=1e-12)
    (procedure,) = book.sheet({"maker": "quill"}, "engine").procedures
    (step,) = [step for step in procedure.steps if step.step == f"t{number}"]
    assert step.probability == pytest.approx(KNOWN * share if columns else 1.0, abs=1e-12)  # without a condition it is done on any unit
    assert step.state == ("do" if not columns else "do" if share == 1 else "undecided")


@pytest.mark.parametrize("number", range(len(ROWS)))
@pytest.mark.parametrize("serial", [None, "3", "5", "8"])
def test_a_supersession_holds_where_a_fitment_with_the_same_columns_does(book: KnowledgeBase, number: int, serial: str | None) -> None:
    unit = {"maker": "quill", **({"serial": [{"reading": serial}]} if serial else {})}
    rule, arrow = book._parts.rules(f"P{number}")[0], book._parts.arrows(f"S{number}")[0]
    assert rule.applies is arrow.applies
    yes = book.fits(f"P{number}", unit)[0].probability
    offers = book._counter(unit, "fitted", None).hypothesis.current(f"S{number}").offers
    if yes < 0.049:
        assert offers == ()
    else:
        (offer,) = offers
        assert [new for new, _ in offer.parts] == [f"N{number}"]
        assert bool(offer.conditions) is (ROWS[number][0] != {} and yes < 0.949)  # said where it is open, not where it is settled


@pytest.mark.parametrize("number", range(1, 7))  # those by the unit's own serial and model; shares go by no other number
def test_an_option_is_fitted_where_a_fitment_with_the_same_columns_applies(book: KnowledgeBase, number: int) -> None:
    (found,) = [each for each in book.identify({"maker": "quill"}).fitted if each.component == f"q-opt{number}"]
    share = ROWS[number][1]
    assert found.as_built_probability == pytest.approx(max(share, 1 - share), abs=1e-12)
    assert found.as_built == (f"opt{number}" if share > 0.5 else f"else{number}")


LIMITS = [
    # a limit; what it leaves by line (orders count from 0); whether anybody can have meant it
    (Limit("q-no"), {"q-no": (0, 9)}, True),
    (Limit("q-no", "3"), {"q-no": (2, 9)}, True),
    (Limit("q-no", None, "7"), {"q-no": (0, 6)}, True),  # across blocks
    (Limit("q-no", "3", "3"), {"q-no": (2, 2)}, True),
    (Limit("q-no", "4", "3"), {"q-no": (3, 2)}, False),  # reversed
    (Limit(None, "E4"), {"q-e": (3, 9)}, True),  # of whichever series has it
    (Limit(None, "3", "E4"), {}, False),  # in different lines
    (Limit("q-no", "11"), {}, False),  # stands nowhere
    (Limit("q-e", "3"), {}, False),
    (Limit("other"), {}, True),
]


@pytest.mark.parametrize(("limit", "left", "meant"), LIMITS)
def test_what_a_limit_leaves_where_it_is_stated_and_where_it_may_speak_of_others(
    book: KnowledgeBase, limit: Limit, left: dict[str, tuple[int, int]], meant: bool
) -> None:
    lines = book._book.lines
    expected = {line: OrderRange(*orders) for line, orders in left.items()}
    assert orders_within(lines, limit) == expected
    if meant:
        assert stretches(lines, limit) == expected
    else:
        with pytest.raises(DataError):
            stretches(lines, limit)
