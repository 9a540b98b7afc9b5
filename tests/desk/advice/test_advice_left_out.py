"""What advice leaves out because it cannot be among the best is never among the best: advice with and without looking at everything."""

from pathlib import Path

import pytest

from kb import Evidence, KnowledgeBase
from kb.desk.advice.checks import rank_checks
from kb.desk.fitment import fits as fit

UNITS = [
    {"serial": "105112"},
    {"serial": "1051?2"},
    {"serial": "10?1?2"},
    {"serial": "10????"},
    {"serial": "P03000"},
    {"serial": "C22?0"},
    {"maker": "pellwether"},
    {"serial": "105112", "marks": {"arbor-housing@left": "V21?6"}},
    {"serial": "105112", "marks": "V2146"},  # somewhere on the unit: then castings of all assemblies hang together
]
PARTS = ("6104", "6118", "6122", "6216", "6410", "6430", "6710", "PE-112", "PE-115", "PE-216", "PE-224", "PE-231", "PE-405", "PE-900")


@pytest.mark.parametrize("unit", UNITS, ids=str)
@pytest.mark.parametrize("most", [1, 3])
def test_nothing_that_would_be_among_the_best_is_left_out(unit: dict[str, object], most: int, demo_db: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with KnowledgeBase.open(demo_db) as book:
        quick = [book._counter(Evidence.read(unit), "fitted", None, None, most).fits(book._the_one(part)) for part in PARTS]
        monkeypatch.setattr(fit, "rank_checks", lambda *given, near, **others: rank_checks(*given, near=None, **others))
        slow = [book._counter(Evidence.read(unit), "fitted", None, None, most).fits(book._the_one(part)) for part in PARTS]
    asked = 0
    for one, other in zip(quick, slow, strict=True):
        for a, b in zip(one, other, strict=True):
            assert [check.check for check in a.check_next] == [check.check for check in b.check_next]
            asked += bool(a.check_next)
    assert asked, "nothing was open, so that nothing was tested"


def test_what_is_seen_at_a_place_means_a_casting_of_that_place(demo_db: Path) -> None:
    """Once the unit is known the question is put place by place, and each place has its own answers."""
    with KnowledgeBase.open(demo_db) as book:
        checks = book.identify({"serial": "105112", "model": "wren-30"}).check_next
        names = {book._book.components[c].name: {v.name for v in rows} for c, rows in book._book.variants_of.items()}
    assert len(checks) > 1
    for check in checks:
        component = next(name for name in sorted(names, key=len, reverse=True) if f" the {name}" in check.check)
        for outcome in check.outcomes:
            assert outcome.means.startswith((*names[component], "a casting not recorded here")), (check.check, outcome)
