"""The demo data: consistent, reproducible, and its three stories come out as its README tells them."""

import importlib.util
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from kb import Evidence, KnowledgeBase
from loaders.folder import Loaded, load

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "demo_data" / "mills-and-pumps"
BARN_FIND = {"serial": "?1?42", "marks": {"gear-case": "18-E25", "base-frame": "3?-Q50"}}


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    return load([FOLDER])


@pytest.fixture(scope="module")
def book(demo_db: Path) -> Iterator[KnowledgeBase]:
    with KnowledgeBase.open(demo_db) as opened:
        yield opened


@pytest.fixture(scope="module")
def make_sightings() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_sightings", FOLDER.parent / "make_sightings.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_only_the_intended_doubts_are_found(loaded: Loaded) -> None:
    found = [(finding.severity, finding.file, finding.value) for finding in loaded.findings]
    assert found == [
        ("doubt", "blocks.csv", "ov-1931"),  # a rival block
        ("doubt", "breakpoints.csv", "107350"),  # bulletin and register about the feed cam
        ("doubt", "breakpoints.csv", "S0655"),  # letter and owners' list about the bearing cap
        ("doubt", "breakpoints.csv", "D0990"),  # a misprint in the reprint
        ("doubt", "sightings.csv", "E1624"),  # beyond the numbers of the works book
        ("doubt", "sightings.csv", "R0921W"),  # a letter that nobody explains
    ]


def test_sightings_are_what_their_script_writes(make_sightings: ModuleType, tmp_path: Path) -> None:
    make_sightings.main(tmp_path / "sightings.csv")
    assert (tmp_path / "sightings.csv").read_bytes() == (FOLDER / "sightings.csv").read_bytes()


def test_estimates_find_the_true_change_overs(make_sightings: ModuleType, book: KnowledgeBase) -> None:
    """Intervals that hold nine tenths hold the truth about nine times in ten, the told ones among them."""
    truth = {(series, line, component, new.variant): new.first
             for (series, line, component, _), history in make_sightings.TRUTH.items() for new in history[1:]}  # fmt: skip
    changeovers = book.review().changeovers
    true = [_serial_order(truth[c.series, c.line, c.component, c.new_variant]) for c in changeovers]
    missed = [c for c, order in zip(changeovers, true, strict=True) if not _serial_order(c.low) <= order <= _serial_order(c.high)]
    assert len(changeovers) == 35
    assert len(missed) <= 5, [(c.component, c.low, c.high) for c in missed]


def test_everything_can_be_told_and_everything_has_a_reason(loaded: Loaded) -> None:
    assert all(variant.how_to_tell for variant in loaded.dataset.variants)
    assert all(component.where_to_look for component in loaded.dataset.components)
    assert [part.part_number for part in loaded.dataset.parts if not part.note] == []
    used = {row.part_number for row in loaded.dataset.fitments} | {row.new_part for row in loaded.dataset.supersessions}
    used |= {row.part_number for row in loaded.dataset.contents}
    assert [part.part_number for part in loaded.dataset.parts if part.part_number not in used] == []


def test_both_variants_of_every_changed_casting_have_a_part_of_their_own(loaded: Loaded) -> None:
    """Re-patterned variants share the parts of the one whose function they have."""
    same = {v.variant_id: v.same_function_as for v in loaded.dataset.variants if v.same_function_as}
    roles: dict[str, dict[str, set[str]]] = {}
    for row in loaded.dataset.fitments:
        if row.variant_id and row.fits and not row.retracted:
            roles.setdefault(row.variant_id, {}).setdefault(row.role, set()).add(row.part_number)
    changes = {(b.old_variant_id, b.new_variant_id) for b in loaded.dataset.breakpoints if b.old_variant_id and not b.retracted}
    for old, new in sorted(changes, key=str):
        if same.get(new) == old:
            assert new not in roles
            continue
        one, other = roles[same.get(str(old), str(old))], roles[new]
        assert any(not one[role] & other[role] for role in set(one) & set(other)), f"{old} and {new} take the same parts"


@pytest.mark.parametrize("name", sorted(path.name for path in (FOLDER / "pictures").iterdir()))
def test_drawings_are_plain(name: str, loaded: Loaded) -> None:
    root = ET.fromstring((FOLDER / "pictures" / name).read_text(encoding="utf-8"))
    names = [element.tag.rpartition("}")[2] for element in root.iter()]
    assert root.get("viewBox") and root.get("stroke") == "currentColor"
    assert names[1] == "title" and set(names) <= {"svg", "title", "circle", "ellipse", "rect", "path", "text"}
    assert not any("href" in key or key.startswith("on") for element in root.iter() for key in element.attrib)
    row = next(picture for picture in loaded.dataset.pictures if picture.file == name)
    assert len(row.alt) > 40 and row.licence == "CC0-1.0"


def test_restorer_knows_the_unit_and_one_look_settles_the_packing(book: KnowledgeBase) -> None:
    found = book.identify(Evidence(**BARN_FIND))
    assert (found.units[0].model, found.units[0].block) == ("quince-5", "pw-c") and found.units[0].probability > 0.85  # "about nine in ten"
    assert [fit.verdict for fit in book.fits("PE-214", found)] == ["check first"]
    assert "Is there a boss" in book.fits("PE-214", found)[0].check_next[0].check
    looked = Evidence(**BARN_FIND, features={"pump-body.relief-boss": "round"})
    assert book.identify(looked).units[0].probability > found.units[0].probability
    assert [fit.verdict for fit in book.fits("PE-214", looked)] == ["fits"]
    assert [fit.verdict for fit in book.fits("PE-210", looked)] == ["does not fit"]


@pytest.mark.parametrize(("serial", "verdict"), [("104873", "fits"), ("105112", "check first"), ("106500", "does not fit")])
def test_seller_sells_the_third_number_only_where_it_fits(book: KnowledgeBase, serial: str, verdict: str) -> None:
    fits = book.fits("6104", Evidence(serial=serial))
    assert {fit.place for fit in fits} == {"left", "right"} and {fit.verdict for fit in fits} == {verdict}
    assert [now.part_number for now in fits[0].current] == ["6104-2"]
    other = {"fits": "does not fit", "does not fit": "fits"}.get(verdict, verdict)
    assert {fit.verdict for fit in book.fits("6118-1", Evidence(serial=serial))} == {other}


def test_archivist_sees_the_register_win_and_the_swapped_cam(book: KnowledgeBase, loaded: Loaded) -> None:
    cam = next(c for c in book.review().changeovers if c.component == "feed-cam")
    assert cam.first_new == cam.low == cam.high == "107350"
    assert {claim.breakpoint_id: claim.standing for claim in cam.claims} == {"cam-register": "supported", "cam-bulletin": "contradicted"}
    odd = {each.sighting_id for each in cam.odd_sightings}
    assert [s.serial for s in loaded.dataset.sightings if s.sighting_id in odd] == ["106420"]


@pytest.mark.parametrize("serial", ["K7712", "734521", "ZQ04127"])
def test_number_nobody_made_is_unknown(book: KnowledgeBase, serial: str) -> None:
    assert book.identify(Evidence(serial=serial)).not_in_knowledge_base > 0.9


@pytest.mark.parametrize(
    ("below", "at", "component"), [("106050", "106051", "brake-band"), ("108650", "108651", "saw-flange"), ("C1509", "C1510", "pump-body")]
)
def test_one_below_and_one_at_a_breakpoint_were_built_differently(book: KnowledgeBase, below: str, at: str, component: str) -> None:
    built = [next(f.as_built for f in book.identify(Evidence(serial=serial)).fitted if f.component == component) for serial in (below, at)]
    change = next(c for c in book.review().changeovers if c.component == component and c.first_new == at)
    assert built == [change.old_variant, change.new_variant]


def _serial_order(serial: str) -> tuple[str, str]:
    """Enough of an order for one line: letters of later blocks come later; "" is "not yet changed"."""
    return ("~", "") if not serial else (serial.rstrip("0123456789"), serial.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
