"""The slips people make when they write a part number down, and how probable each makes what was written.

A letter O for the figure 0, two neighbours swapped, one character wrong, missing or too many, the suffix left out. What somebody wrote is
weighed against each known number as P(written | meant) = P(kind of slip) / (ways to make it), the noisy channel of spelling correction
(Kernighan, Church and Gale, A spelling correction program based on a noisy channel model, COLING 1990), so that a swap of two neighbours,
which can be made in few ways, tells more than a wrong character, which can be made in many. The single slips are those of Damerau, A technique
for computer detection and correction of spelling errors, CACM 7 (1964). Numbers are in their normal form (`kb.words.notation`).
"""

from dataclasses import dataclass

from kb.assumptions import Assumptions
from kb.words.notation import ALPHABET

# Characters that look alike in print or handwriting, as the one they are taken for. Common practice of the trade.
LOOK_ALIKE = str.maketrans("OQDILSBZG", "000115826")
LONGEST_SUFFIX = 4  # characters of a suffix that somebody leaves out


@dataclass(frozen=True)
class Slip:
    """What must have gone wrong, in words, and P(written | meant)."""

    words: str
    chance: float


def fold(form: str) -> str:
    """A number with characters that look alike made the same.

    >>> fold("14O7-I".replace("-", ""))
    '14071'
    """
    return form.translate(LOOK_ALIKE)


def slip(written: str, meant: str, distance: int, suffix_at: frozenset[int], assumptions: Assumptions) -> Slip:
    """The slip by which one number was written for another.

    Args:
        written, meant: normal forms, different ones.
        distance: optimal string alignment distance of their folded forms (insertions, deletions, substitutions, swaps of neighbours).
        suffix_at: places in `meant` where a suffix may begin.

    >>> slip("1470", "1407", 1, frozenset(), Assumptions()).words
    'two characters swapped'
    >>> slip("14O7", "1407", 0, frozenset(), Assumptions()).words
    'O for 0'
    """
    shares, n = assumptions.slip_share, len(meant)
    if fold(written) == fold(meant):
        return Slip(", ".join(_taken_for(written, meant)), shares["look-alike"] / len(_taken_for(written, meant)))
    left_out = meant[len(written) :]
    if fold(meant).startswith(fold(written)) and len(written) in suffix_at and len(left_out) <= LONGEST_SUFFIX:
        others = _taken_for(written, meant[: len(written)])
        return Slip(", ".join([*others, f"{left_out} left out at the end"]), shares["suffix"] * shares["look-alike"] ** len(others))
    if distance != 1:
        return Slip("several slips", shares["several"] / (n * len(ALPHABET)) ** distance)
    if len(written) == n:
        wrong = [i for i in range(n) if fold(written[i]) != fold(meant[i])]
        alike: float = shares["look-alike"] ** sum(1 for i in range(n) if i not in wrong and written[i] != meant[i])
        if len(wrong) == 2:
            return Slip("two characters swapped", alike * shares["swapped"] / (n - 1))
        return Slip(f"{written[wrong[0]]} for {meant[wrong[0]]}", alike * shares["wrong"] / (n * (len(ALPHABET) - 1)))
    short, long = sorted((written, meant), key=len)
    alike = 1.0 if any(long[:i] + long[i + 1 :] == short for i in range(len(long))) else shares["look-alike"]
    if len(written) < n:
        return Slip("a character missing", alike * shares["missing"] / n)
    return Slip("a character too many", alike * shares["added"] / ((n + 1) * len(ALPHABET)))


def _taken_for(written: str, meant: str) -> list[str]:
    """Characters written for others that look alike, each pair once."""
    return list(dict.fromkeys(f"{a} for {b}" for a, b in zip(written, meant, strict=True) if a != b))
