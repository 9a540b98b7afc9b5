"""Part numbers as people write them: "1407a", "1407-A" and "1407 A" are one number; a number nobody recorded is never guessed.

The normal form is that of every number here (`kb.words.notation`). Several makers may use the same number; all of them are
offered. For a number that is not known the nearest known ones are named, for the person to choose.
"""

from collections.abc import Iterable, Mapping, Sequence

from kb.words.errors import QuestionError
from kb.words.notation import normalise, simplify


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
    kb.words.errors.QuestionError: There is no part "1470-A". Did you mean 1407-A?
    """
    found = known.get(normalise(asked))
    if not found:
        raise not_known(asked, nearest(asked, known))
    return tuple(sorted(found, key=lambda number: number != asked))


def nearest(asked: str, known: Mapping[str, Sequence[str]], most: int = 3) -> list[str]:
    """Known numbers that differ from the one asked for by a slip or two (a character wrong, missing, added, or two swapped).

    One slip is allowed for every four characters, at least one. Nearest first, then in the order of the alphabet.
    """
    from rapidfuzz import process  # only a wrong number needs it
    from rapidfuzz.distance import OSA

    normal = simplify(asked)
    slips = max(1, len(normal) // 4)
    close = process.extract(normal, list(known), scorer=OSA.distance, score_cutoff=slips, limit=None)
    return [number for form, _, _ in sorted(close, key=lambda hit: (hit[1], hit[0])) for number in known[form]][:most]


def not_known(asked: str, near: Sequence[str]) -> QuestionError:
    """The error for a part number that nobody recorded."""
    remedy = f"Did you mean {' or '.join(near)}?" if near else "Check the number, or look for it by component with: kb parts."
    return QuestionError(f'There is no part "{asked}".', remedy)
