"""Breaks as parts lists and bulletins print them.

Source: common practice of the trade. "4500 and lower" and "4501 and higher" meet without a gap: both ends belong to their range, also across blocks
("to 9999" and "from B0001"), with or without leading zeros, and with the letters of an export unit.
"""

import numpy as np
import pytest

from kb.assumptions import Assumptions
from kb.probability.production.cell_table import CellTable
from kb.probability.production.changeovers import estimate
from kb.probability.production.claims import Claim
from kb.probability.production.credible_interval import bracket
from kb.probability.production.lineages import draw_up
from kb.probability.production.serial_lookup import Lines, lay_out
from kb.words.applicability import Limit
from kb.words.dataset import Dataset
from kb.words.records import Affix, Block, Breakpoint, Component, Maker, Series, Source, Variant

ASSUMPTIONS = Assumptions()
SOURCE = {"source_id": "bulletin"}


def dataset(*breakpoints: Breakpoint) -> Dataset:
    """One series: 1 to 9999 padded to four digits, then B0001 to B2000. Export units carry an X at the end."""
    return Dataset(
        sources=(Source(source_id="bulletin", title="Service bulletin 12", kind="service bulletin", grade="B"),),
        makers=(Maker(maker_id="maker", name="Maker"),),
        series=(Series(series_id="frame", maker_id="maker", name="Frame numbers", stamped_on="head lug"),),
        affixes=(Affix(series_id="frame", affix="X", at="suffix", means="export"),),
        blocks=(
            Block(block_id="plain", series_id="frame", position=1, first=1, last=9999, width=4, **SOURCE),
            Block(block_id="b", series_id="frame", position=2, prefix="B", first=1, last=2000, width=4, **SOURCE),
        ),
        components=(Component(component_id="head", maker_id="maker", assembly="engine", name="Cylinder head", safety_critical=False),),
        variants=tuple(Variant(variant_id=f"head-{n}", component_id="head", name=f"Head {n}", how_to_tell="by eye") for n in (1, 2)),
        breakpoints=breakpoints,
    )


def order(number: int) -> int:
    """Production order in that series, counted on fingers: 0001 is unit 0."""
    return number - 1


ALL = 9999 + 2000

# as printed, last_old, first_new, the claim, the mixed stretch
PRINTED = [
    ("4500 and lower / 4501 and higher", "4500", "4501", ("exact", order(4501), order(4501)), None),
    ("up to 4500 / from 4501", "4500", "4501", ("exact", order(4501), order(4501)), None),
    ("0412 and lower / 0413 and higher", "412", "0413", ("exact", order(413), order(413)), None),
    ("4500X and lower / 4501X and higher", "4500X", "4501X", ("exact", order(4501), order(4501)), None),
    ("to 9999 / from B0001", "9999", "B0001", ("exact", order(10000), order(10000)), None),
    ("B0850 and higher", None, "B0850", ("exact", order(9999 + 850), order(9999 + 850)), None),
    ("4500 and lower", "4500", None, ("range", order(4501), ALL), None),
    ("4500 and lower / 4601 and higher", "4500", "4601", ("range", order(4501), order(4601)), None),  # nobody says what 4501 to 4600 have
    ("4600 and lower / 4501 and higher", "4600", "4501", ("exact", order(4501), order(4501)), 100),  # 4501 to 4600 have either
]


@pytest.mark.parametrize(("as_printed", "last_old", "first_new", "claim", "width"), PRINTED)
def test_a_break_is_the_claim_that_its_words_make(
    as_printed: str, last_old: str | None, first_new: str | None, claim: tuple[str, int, int], width: int | None
) -> None:
    row = Breakpoint(
        breakpoint_id="break", series_id="frame", component_id="head", old_variant_id="head-1", new_variant_id="head-2",
        last_old=last_old, first_new=first_new, as_printed=as_printed, **SOURCE,
    )  # fmt: skip
    data = dataset(row)
    lines, problems = lay_out(data)
    (lineage,), more = draw_up(data, lines, ASSUMPTIONS)
    assert problems + more == []
    assert lineage.concerned.count == ALL
    (change,) = lineage.changes
    assert change.claims == (Claim(*claim, ASSUMPTIONS.grade_reliability["B"]),)
    assert change.widths == ((width,) if width else ())


def test_ends_that_meet_leave_no_unit_between_old_and_new() -> None:
    """The first new unit is 4501 with the reliability of the source, and the bracket holds this one serial."""
    posterior = estimate(ALL, [Claim("exact", order(4501), order(4501), ASSUMPTIONS.grade_reliability["B"])], [], [], ASSUMPTIONS)
    found = bracket(posterior, ASSUMPTIONS)
    assert (found.first_new, found.low, found.high) == (order(4501), order(4501), order(4501))
    assert found.probability >= ASSUMPTIONS.grade_reliability["B"]


def every_serial(lines: Lines) -> CellTable:
    """A stretch for each single serial."""
    blocks = tuple((line, index) for line in lines for index in range(len(line.blocks)))
    serials = [(at, number) for at, (line, index) in enumerate(blocks) for number in range(line.blocks[index].first, line.blocks[index].last + 1)]
    block, number = np.array(serials, dtype=np.int64).T
    return CellTable(tuple(lines), blocks, ("",), np.zeros_like(block), block, np.zeros_like(block), number, number, np.ones(len(serials)))


MEETING = [("4500", "4501"), ("0001", "2"), ("9999", "B0001"), ("B0849", "B0850"), ("4500X", "4501X"), ("B1999", "B2000")]


@pytest.mark.parametrize(("last", "first"), MEETING)
def test_parts_limited_to_serials_that_meet_leave_no_unit_without_a_part_and_none_with_two(last: str, first: str) -> None:
    lines, problems = lay_out(dataset())
    assert problems == []
    units = every_serial(lines)
    older, newer = units.within(Limit("frame", None, last)), units.within(Limit("frame", first, None))
    assert (older ^ newer).all()
    assert older.any()
    assert newer.any()
    either = units.within(Limit("frame", first, last))
    assert not either.any(), "a range that ends before it begins holds nobody"
    assert units.within(Limit("frame", first, first)).sum() == 1
