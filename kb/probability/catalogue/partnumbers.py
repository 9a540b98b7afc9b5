"""Part numbers as people write them: "1407a", "1407-A", "No. 1407 A" are one number; a number nobody recorded is never guessed.

The normal form is that of every number here (`kb.words.notation`). Several makers may use the same number; all of them are
offered. For a number that is not known, those that were probably meant are named with the slip that it would take (`kb.probability.catalogue.slips`),
for the person to choose; those that are equally near are named together or not at all.
"""

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from kb.assumptions import Assumptions
from kb.probability.catalogue.slips import LONGEST_SUFFIX, fold, slip
from kb.words.errors import QuestionError
from kb.words.notation import ALPHABET, normalise, simplify

MOST_NAMED = 6
_BEFORE = re.compile(r"^\s*(?:(?:part|item|catalogue|cat)\.?\s*)?(?:(?:number|no|nr)\b\.?|#|№)\s*:?\s*(?=\S*\d)", re.IGNORECASE)
_AROUND = str.maketrans(dict.fromkeys("#\"'()_,:;№", " "))
_BOUNDARY = re.compile(r"(?<=[0-9])(?=[A-Z])|(?<=[A-Z])(?=[0-9])")


@dataclass(frozen=True)
class Near:
    """A known number that may have been meant: the slip in words, and the probability among those known."""

    part_number: str
    slip: str
    probability: float


def by_normal_form(numbers: Iterable[str]) -> dict[str, list[str]]:
    """Part numbers as written, by their normal form.

    Raises:
        DataError: a number has neither letter nor digit, or a character that part numbers do not have.

    >>> by_normal_form(["1407-A", "1407 a", "1408"])
    {'1407A': ['1407-A', '1407 a'], '1408': ['1408']}
    """
    found: dict[str, list[str]] = {}
    for number in numbers:
        found.setdefault(normalise(number), []).append(number)
    return found


def ways_to_read(asked: str) -> list[str]:
    """The normal forms that a typed number surely means: as it stands, else without what people write around a number.

    >>> ways_to_read("1407 a"), ways_to_read("No. 1407-A"), ways_to_read('"1407_A"')
    (['1407A'], ['NO1407A', '1407A'], ['"1407_A"', '1407A'])
    """
    bare = _BEFORE.sub("", asked)
    return list(dict.fromkeys(simplify(text) for text in (asked, bare, bare.translate(_AROUND))))


def look_up(asked: str, known: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """The known numbers that are the one asked for; the one written exactly so stands first.

    known: normal form -> numbers as written (`by_normal_form`).

    Raises:
        DataError: what was asked cannot be a number.
        QuestionError: nobody recorded it; the nearest known numbers are named.

    >>> look_up("1407a", by_normal_form(["1407-A", "1408"]))
    ('1407-A',)
    >>> look_up("1470-A", by_normal_form(["1407-A", "1408"]))
    Traceback (most recent call last):
    kb.words.errors.QuestionError: There is no part "1470-A". Did you mean 1407-A (two characters swapped)?
    """
    found = next((known[form] for form in ways_to_read(asked) if form in known), None)
    if not found:
        normalise(ways_to_read(asked)[-1])
        raise not_known(asked, KnownNumbers(known).near(asked))
    return tuple(sorted(found, key=lambda number: number != asked))


class KnownNumbers:
    """All part numbers of a knowledge base, made ready to look for those near a wrong one."""

    def __init__(self, known: Mapping[str, Sequence[str]], assumptions: Assumptions | None = None) -> None:
        """known: normal form -> numbers as written."""
        self.known = known
        self.assumptions = assumptions or Assumptions()

    def near(self, asked: str) -> list[Near]:
        """The known numbers that may have been meant, the most probable first, equally probable ones in the order of the alphabet.

        A number is near if it can be written as the one asked for by one slip for every four characters, at least one, or by leaving out
        its suffix. Each number was as likely to be asked for as any other. A group of equally probable numbers is never cut: where
        it would be longer than MOST_NAMED by far, none of it is named.
        """
        written = "".join(c for c in ways_to_read(asked)[-1] if c in ALPHABET)
        if not written:
            return []
        found: list[tuple[float, str, str]] = []
        for form, distance in self._candidates(fold(written)):
            if form != written:
                seen = slip(written, form, distance, self._suffix_at(form), self.assumptions)
                found.append((seen.chance, form, seen.words))
        total = sum(chance for chance, _, _ in found)
        found.sort(key=lambda each: (-each[0], each[1]))
        named: list[Near] = []
        at = 0
        while at < len(found) and found[at][0] >= self.assumptions.slip_at * found[0][0]:
            chance = found[at][0]
            group = [each for each in found[at:] if each[0] >= chance * (1 - 1e-9)]  # numeric
            if named and len(named) + len(group) > MOST_NAMED or len(group) > 4 * MOST_NAMED:
                break
            named += [Near(number, words, chance / total) for _, form, words in group for number in self.known[form]]
            at += len(group)
        return named

    def _candidates(self, folded: str) -> Iterable[tuple[str, int]]:
        """(normal form, distance of the folded forms) of numbers within reach."""
        from rapidfuzz import process  # only a wrong number needs it
        from rapidfuzz.distance import OSA

        slips = max(1, len(folded) // 4)
        close = {i: int(d) for _, d, i in process.extract(folded, self._folded, scorer=OSA.distance, score_cutoff=slips, limit=None)}
        first = bisect_left(self._folded, folded)
        for i in range(first, len(self._folded)):
            if not self._folded[i].startswith(folded):
                break
            if len(self._folded[i]) <= len(folded) + LONGEST_SUFFIX and len(folded) in self._suffix_at(self._forms[i]):
                close.setdefault(i, len(self._folded[i]) - len(folded))
        return [(self._forms[i], distance) for i, distance in close.items()]

    @cached_property
    def _sorted(self) -> list[tuple[str, str]]:
        return sorted((fold(form), form) for form in self.known)

    @cached_property
    def _folded(self) -> list[str]:
        return [folded for folded, _ in self._sorted]

    @cached_property
    def _forms(self) -> list[str]:
        return [form for _, form in self._sorted]

    def _suffix_at(self, form: str) -> frozenset[int]:
        """Where a suffix may begin: at a separator of the number as written, and between letters and figures."""
        places = {match.start() for match in _BOUNDARY.finditer(form)}
        for number in self.known[form]:
            at = 0
            for piece in re.split(r"[\W_]+", number):
                at += len(simplify(piece))
                places.add(at)
        return frozenset(places - {0, len(form)})


def not_known(asked: str, near: Sequence[Near], otherwise: str = "") -> QuestionError:
    """The error for a part number that nobody recorded. otherwise: what else it may be, as a sentence."""
    offered = [f"{each.part_number} ({each.slip})" for each in near]
    meant = f"Did you mean {' or '.join([', '.join(offered[:-1]), offered[-1]] if len(offered) > 1 else offered)}?" if near else ""
    remedy = " ".join(filter(None, [otherwise, meant])) or "Check the number, or look for the part by what it is with: kb find."
    return QuestionError(f'There is no part "{asked}".', remedy)
