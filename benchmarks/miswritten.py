"""Part numbers miswritten in the ways people do, and how often what was meant is named: this program beside plain RapidFuzz.

A catalogue of dense families, as parts lists are numbered: running numbers with suffixes, two makers with letters in front. A slip that
happens to be another known number is drawn again, because nobody can tell the two apart. RapidFuzz is asked as its documentation shows it
(`process.extractOne`, scorer WRatio), once with the numbers as written and once with their normal forms.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from kb.probability.catalogue.partnumbers import KnownNumbers, by_normal_form, ways_to_read
from kb.words.notation import ALPHABET, simplify

KNOWN = 1500
MISWRITTEN = 5000
SPACES = ("", " ", "-", ".", "/", " - ")
MOST_TRIES = 200


@dataclass(frozen=True)
class Score:
    """One kind of slip. Counts out of `asked`.

    first: what was meant was named first. named: it was among those named. plain, normal: WRatio hit it, as written and by normal form.
    guessed: cases in which this program named one of several equally near numbers only; tied: in which WRatio did so.
    """

    kind: str
    asked: int
    first: int
    named: int
    plain: int
    normal: int
    guessed: int
    tied: int


def catalogue(dice: random.Random, count: int = KNOWN) -> list[str]:
    """Known part numbers."""
    numbers: dict[str, str] = {}
    while len(numbers) < count:
        base = f"{dice.choice(('', '', 'PE-', 'H '))}{dice.randint(1000, 2400)}"
        for suffix in dice.choice(((), ("-1", "-2"), ("-A",), ("-A", "-B", "-C"), ("-10", "-25"))) + ("",) * dice.randint(0, 1):
            numbers.setdefault(simplify(base + suffix), base + suffix)
    return list(numbers.values())[:count]


def spaced(dice: random.Random, number: str) -> str:
    """Other separators and case."""
    text = dice.choice(SPACES).join(number.replace("-", " ").split()) if dice.random() < 0.5 else number
    at = dice.randrange(1, len(text))
    text = text[:at] + dice.choice(SPACES) + text[at:]
    return text.lower() if dice.random() < 0.5 else text


def look_alike(dice: random.Random, number: str) -> str:
    """O for 0 throughout."""
    return number.replace("0", "O")


def swapped(dice: random.Random, number: str) -> str:
    """Two neighbours swapped."""
    at = dice.randrange(len(number) - 1)
    return number[:at] + number[at + 1] + number[at] + number[at + 2 :]


def one_wrong(dice: random.Random, number: str) -> str:
    """One character another of its kind."""
    at = dice.choice([i for i, c in enumerate(number.upper()) if c in ALPHABET])
    kind = ALPHABET[:10] if number[at].isdigit() else ALPHABET[10:]
    return number[:at] + dice.choice([c for c in kind if c != number[at]]) + number[at + 1 :]


def lost_suffix(dice: random.Random, number: str) -> str:
    """Whatever comes after the last dash left out."""
    base, dash, suffix = number.rpartition("-")
    return base if dash and any(c.isdigit() for c in base) else number


KINDS: dict[str, Callable[[random.Random, str], str]] = {
    "spacing and case": spaced, "O for 0": look_alike, "transposed pair": swapped, "one wrong character": one_wrong, "lost suffix": lost_suffix,
}  # fmt: skip


def scores(count: int = MISWRITTEN, seed: int = 1) -> list[Score]:
    """A row for each kind of slip; the same for the same seed."""
    dice = random.Random(seed)
    numbers = catalogue(dice)
    return [_score(kind, numbers, dice, count // len(KINDS)) for kind in KINDS]


def _score(kind: str, numbers: Sequence[str], dice: random.Random, count: int) -> Score:
    known, forms = by_normal_form(numbers), [simplify(number) for number in numbers]
    near = KnownNumbers(known)
    first = named = plain = normal = guessed = tied = 0
    for _ in range(count):
        meant, asked = _miswritten(kind, numbers, known, dice)
        right = {number for number in numbers if lost_suffix(dice, number) == asked} if kind == "lost suffix" else {meant}
        exact = next((known[form] for form in ways_to_read(asked) if form in known), [])
        found = near.near(asked) if not exact else []
        offered = exact or [each.part_number for each in found]
        first += bool(offered) and offered[0] in right
        named += bool(right & set(offered))
        best = process.extractOne(asked, numbers, scorer=fuzz.WRatio)
        plain += best is not None and best[0] in right
        by_form = process.extractOne(simplify(asked), forms, scorer=fuzz.WRatio)
        normal += by_form is not None and numbers[by_form[2]] in right
        tied += by_form is not None and len(process.extract(simplify(asked), forms, scorer=fuzz.WRatio, score_cutoff=by_form[1], limit=2)) > 1
        nearest = [each for each in found if each.probability >= found[0].probability * (1 - 1e-9)]
        guessed += len(offered) == 1 and not exact and len(nearest) > 1
    return Score(kind, count, first, named, plain, normal, guessed, tied)


def _miswritten(kind: str, numbers: Sequence[str], known: dict[str, list[str]], dice: random.Random) -> tuple[str, str]:
    """(what was meant, what was written), which is not another known number and, but for the spacing, not the same."""
    for _ in range(MOST_TRIES):
        meant = dice.choice(numbers)
        asked = KINDS[kind](dice, meant)
        same = simplify(asked) == simplify(meant)
        if asked != meant and same is (kind == "spacing and case") and (same or simplify(asked) not in known):
            return meant, asked
    raise ValueError(f"No number of the catalogue can be miswritten so: {kind}.")


def as_table(rows: Sequence[Score]) -> str:
    """The rows as a Markdown table, in per cent."""
    lines = [
        "| slip | asked | named first | among those named | WRatio, as written | WRatio, normal form | WRatio: one of several equals, unsaid |",
        "|---|---:|---:|---:|---:|---:|---:|",
    ]
    for r in rows:
        shares = [f"{100 * n / r.asked:.1f} %" for n in (r.first, r.named, r.plain, r.normal, r.tied)]
        lines.append(f"| {r.kind} | {r.asked} | {' | '.join(shares)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(as_table(scores()))
