"""The seller's counter on the demo data: finding parts, one verdict and one question, orders over all places, stock lists, outcomes."""

from datetime import date
from pathlib import Path

import pytest

from kb import KnowledgeBase, QuestionError
from kb.probability.inference.costs import Costs
from kb.store.build import build
from loaders.folder import load


@pytest.fixture
def book(demo_db: Path) -> KnowledgeBase:
    return KnowledgeBase.open(demo_db)


@pytest.fixture(scope="module")
def shop(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with a shop's private layer."""
    folder = tmp_path_factory.mktemp("shop")
    (folder / "offers.csv").write_text(
        "offer_id,part_number,supplier,their_number,condition,price,currency,as_of\n"
        "o-1,6104-2,Quillfeather,QF 77-1,new old stock,12.5,EUR,2024-01-10\n"
        "o-2,6104-2,Marlbrook,,used,4,EUR,2024-03\n"
    )
    (folder / "outcomes.csv").write_text(
        "outcome_id,part_number,variant_id,result,reason\n"
        + "".join(f"r-{n},6104,housing-seal35,fitted,\n" for n in range(14))
        + "r-99,6104,,returned,wrong shaft\n"
    )
    loaded = load([demo_folder, folder])
    assert not loaded.wrong, [str(finding) for finding in loaded.findings]
    build(loaded.dataset, folder / "kb.db", pictures=loaded.pictures, problems=loaded.problems)
    build(loaded.dataset, folder / "public.db", pictures=loaded.pictures, problems=loaded.problems, public=True)
    return folder


@pytest.mark.parametrize(("text", "found"), [
    ("6104-2", ["6104-2"]),
    ("No. 6104 2", ["6104-2"]),
    ("seal 38x56x8", ["6118", "6118-1"]),  # the first by its description, which names the measures
    ("seal 56 x 38", ["6118", "6118-1"]),  # in any order
    ("seal 65.1 x 48", ["PE-306"]),
    ("65.3 x 48", []),  # beyond the tolerance
    ("width=55mm", ["PE-405"]),
    ("5.5 cm lining", ["PE-405"]),
    ("inner=52 mm", []),
    ("width 8 mm", ["6118-1"]),  # the name of a measure before it
])
def test_parts_by_number_measures_and_words(text: str, found: list[str], book: KnowledgeBase) -> None:
    assert [part.part_number for part in book.find(text).parts] == found


def test_parts_by_their_place_in_the_book(book: KnowledgeBase) -> None:
    assert [part.part_number for part in book.find(figure="7", item="13").parts] == ["PE-224"]
    assert {part.part_number for part in book.find(figure="4").parts} >= {"6100", "6104", "6118", "6131-50"}
    assert [part.part_number for part in book.find("shim 0.5mm", figure="4").parts] == ["6131-50"]
    with pytest.raises(QuestionError, match="Nothing to look for"):
        book.find()


def test_an_unknown_number_is_not_taken_for_another(book: KnowledgeBase) -> None:
    found = book.find("61O4")
    assert found.parts == []
    assert found.near[0].part_number == "6104"
    assert found.near[0].slip == "O for 0"
    assert [part.part_number for part in found.parts] == []
    assert book.find("V2141").castings == ["arbor housing: housing for the 35 mm seal"]
    with pytest.raises(QuestionError, match="It is a casting number"):
        book.fits("V2141", {"serial": "104873"})


def test_kits_both_ways(book: KnowledgeBase) -> None:
    kit, part = book.find("PE-900").parts[0], book.find("PE-224").parts[0]
    assert [(line.part_number, line.quantity) for line in kit.contents] == [("PE-214", 1), ("PE-224", 2), ("PE-235", 4)]
    assert [(line.kit_number, line.quantity) for line in part.in_kits] == [("PE-900", 2)]


def test_offers_with_their_age_and_the_suppliers_own_number(shop: Path) -> None:
    with KnowledgeBase.open(shop / "kb.db") as book:
        offers = book.find("6104", today=date(2024, 4, 1)).parts[0].offers
        assert [(each.supplier, each.age) for each in offers] == [("Marlbrook", "a day old"), ("Quillfeather", "2 months old")]
        assert book.find("6104").parts[0].offers[0].age == ""
        assert [(part.part_number, part.how) for part in book.find("qf-771").parts] == [("6104-2", "the number that Quillfeather uses for it")]
        with pytest.raises(QuestionError, match="Quillfeather uses it for 6104-2"):
            book.units("QF771")


def test_outcomes_stand_beside_the_verdict_but_not_in_a_public_file(shop: Path) -> None:
    unit = {"serial": "104873"}
    with KnowledgeBase.open(shop / "kb.db") as book:
        assert {fit.outcomes for fit in book.fits("6104", unit)} == {"fitted 14, returned 1: wrong shaft"}
        assert book.sell("6104", unit).outcomes == "fitted 14, returned 1: wrong shaft"
    with KnowledgeBase.open(shop / "public.db") as book:
        assert {fit.outcomes for fit in book.fits("6104", unit)} == {""}
        assert book.find("6104").parts[0].offers == []


def test_one_verdict_one_question_and_the_order_for_the_whole_unit(book: KnowledgeBase) -> None:
    clear = book.sell("6104", {"serial": "104873"})
    assert (clear.verdict, clear.ask) == ("fits", "")
    assert [(line.part_number, line.quantity, len(line.places)) for line in clear.order] == [("6104-2", 2, 2)]
    open_ = book.sell("6104", {"serial": "105112"})
    assert open_.verdict == "check first"
    assert "none, narrow or wide" in open_.ask
    assert "narrow: it fits" in open_.ask
    assert "The same goes for: arbor housing (right)" in open_.ask
    wrong = book.sell("6104", {"serial": "106500"})
    assert (wrong.verdict, wrong.order, wrong.ask) == ("does not fit", [], "")
    assert book.sell("6104", {"serial": "104873", "marks": {"arbor-housing@left": "V2148"}}).verdict == "differs by place"


def test_what_must_be_measured_is_the_question(book: KnowledgeBase) -> None:
    sale = book.sell("6131", {"serial": "104873"})
    assert sale.ask == "Measure before ordering: End play of the arbor with the housings tight."
    assert [(line.part_number, line.quantity) for line in sale.order] == [("6131", 1)]  # one for the unit, whatever the places


def test_what_a_replacement_needs_goes_with_it(book: KnowledgeBase) -> None:
    sale = book.sell("6330", {"serial": "104873"})
    assert [(c.part_number, c.quantity, c.why) for c in sale.companions][0] == ("6332", 14, "6331 needs it")
    beside = book.sell("6104", {"serial": "104873"}).companions
    assert ("6122-A", 2.0) in [(c.part_number, c.quantity) for c in beside]
    assert all(c.verdict == "fits" for c in beside)
    assert book.sell("6104", {"serial": "104873"}, companions=False).companions == []


def test_of_interchangeable_companions_one_is_named_and_the_other_beside_it(book: KnowledgeBase) -> None:
    companions = {c.part_number: c.why for c in book.sell("6210", {"serial": "104873"}).companions}
    assert companions["6104-2"] == "seal, outer of the same assembly; or FR-3552"
    assert "FR-3552" not in companions


def test_where_nothing_is_recorded_it_is_said_what_is_the_matter(book: KnowledgeBase) -> None:
    other = book.sell("PE-224", {"serial": "104873"})
    assert (other.verdict, other.ask) == ("not recorded", "")
    assert other.fits[0].because[-1] == "It is recorded for: Pellwether, pump cover."
    nobodys = book.sell("6104", {"serial": "999"})
    assert nobodys.fits[0].because[0].startswith("This suits no unit recorded here")
    assert nobodys.ask.startswith("What exactly is stamped on the machine")
    assert book.inquire({"part": "6104", "serial": "999"})[0]["ask"] == nobodys.ask


def test_the_maker_is_asked_for_where_it_is_open_and_the_order_is_for_one(book: KnowledgeBase) -> None:
    sale = book.sell("6104", {"serial": "*42"})
    assert sale.verdict == "check first"
    assert sale.ask.startswith("Find out who made the unit")
    assert "The same for" not in sale.ask  # it is found out once
    assert [fit.name for fit in sale.fits] == ["Ombrecht & Vay, arbor housing (left)", "Ombrecht & Vay, arbor housing (right)"]
    assert [(line.part_number, line.quantity) for line in sale.order] == [("6104-2", 2)]


def test_stated_costs_move_the_verdict_and_are_said(book: KnowledgeBase) -> None:
    unit = {"serial": "104873"}  # 0.97 that it fits
    assert book.sell("6104", unit, costs=Costs(40, 20)).verdict == "check first"
    assert book.sell("6104", unit, costs=Costs(20, 40)).verdict == "fits"
    assert '"fits" from 0.975 on' in book.sell("6104", unit, costs=Costs(40, 20)).assumed
    assert book.fits("6104", unit)[0].assumed == ""
    critical = {"serial": "104873"}
    assert {fit.verdict for fit in book.fits("6210", critical, costs=Costs(1, 1000))} == {"check first"}  # safety-critical: never lower


def test_a_stock_list(book: KnowledgeBase) -> None:
    lines = {line.asked: line for line in book.stock(["6104", "61o4", "6104-2", "6104 2", "FR-3552", "6802", "PE-231"])}
    assert {asked: line.status for asked, line in lines.items()} == {
        "6104": "superseded", "61o4": "unknown", "6104-2": "current", "6104 2": "current", "FR-3552": "current", "6802": "unavailable",
        "PE-231": "superseded",
    }  # fmt: skip
    assert [(each.part_number, each.quantity) for each in lines["PE-231"].current] == [("PE-232", 2)]
    assert lines["6104-2"].same_as[0] == "2 lines of this list: 6104-2, 6104 2"
    assert book.stock(["6104", "6104"])[0].same_as == ["2 lines of this list"]
    assert book.stock(["V2141"])[0].same_as == ["a casting number: arbor housing: housing for the 35 mm seal"]
    assert "FR-3552 (interchangeable)" in lines["6104-2"].same_as
    assert "6104-2 (both are 6104-2 today)" in lines["6104"].same_as
    assert lines["61o4"].near[0].part_number == "6104"
    assert lines["6104"].fits == book.units("6104").sentence
