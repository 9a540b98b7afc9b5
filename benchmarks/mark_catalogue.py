"""Catalogues of casting marks in dense families, and worn readings of them by a process that is not the program's table.

Families of 20 to 1,200 consecutive numbers, 30 to 95 % of them cast, with a prefix, some with letters behind: 5 to 10 characters. Worn: 12 % of the
characters cannot be read, 10 % are another one of their kind, all alike, 5 % one of two (85 % with the true one); 20 % of the readings have
lost an end, 4 % lack a character, 3 % have one twice.
"""

from collections.abc import Callable

import numpy as np

from kb.words.notation import ALPHABET

LETTERS, DIGITS = ALPHABET[10:], ALPHABET[:10]
LONGEST = 10
Misread = Callable[[str], str]


def catalogue(count: int, rng: np.random.Generator) -> tuple[list[str], list[str]]:
    """(texts in order, 2,000 texts of other families)."""
    texts: dict[str, None] = {}
    while len(texts) < count:
        texts.update(dict.fromkeys(_family(rng)))
    known = list(texts)[:count]
    strange: set[str] = set()
    while len(strange) < 2000:
        strange.update(text for text in _family(rng)[:15] if text not in texts)
    return sorted(known), sorted(strange)


def _family(rng: np.random.Generator) -> list[str]:
    letters = int(rng.choice(4, p=(0.1, 0.3, 0.4, 0.2)))
    prefix = "".join(rng.choice(list(LETTERS), letters))
    width = max(int(rng.choice((3, 4, 5, 6), p=(0.15, 0.4, 0.3, 0.15))), 5 - letters)
    size = int(min(10**width // 2, rng.choice((20, 80, 300, 1200))))
    start, cast, behind = int(rng.integers(10 ** (width - 1), 10**width - size)), rng.uniform(0.3, 0.95), rng.choice(3)
    found = []
    for number in range(start, start + size):
        if rng.random() < cast:
            base = f"{prefix}{number}"
            found += [base] if behind != 2 else []
            more = 0 if behind == 0 else int(rng.integers(0, 3)) if behind == 1 else int(rng.integers(1, 4))
            found += [base + letter for letter in "ABCD"[:more] if len(base) < LONGEST]
    return found


def any_other(rng: np.random.Generator) -> Misread:
    """Another digit for a digit, another letter for a letter, all alike."""

    def misread(character: str) -> str:
        others = [c for c in (DIGITS if character in DIGITS else LETTERS) if c != character]
        return str(rng.choice(others))

    return misread


def read_worn(text: str, rng: np.random.Generator, misread: Misread) -> str:
    """A worn reading of a text, in reading notation."""
    characters = list(text)
    if rng.random() < 0.04:
        characters.pop(int(rng.integers(len(characters))))
    if rng.random() < 0.03:
        at = int(rng.integers(len(characters)))
        characters.insert(at, characters[at])
    tokens = []
    for character in characters:
        kind = rng.random()
        if kind < 0.12:
            tokens.append("?")
        elif kind < 0.22:
            tokens.append(misread(character))
        elif kind < 0.27:
            one = character if rng.random() < 0.85 else misread(character)
            tokens.append(f"[{one}{misread(character)}]")
        else:
            tokens.append(character)
    if rng.random() < 0.2:
        lost = int(rng.integers(1, 4))
        tokens = ["*", *tokens[lost:]] if rng.random() < 0.5 else [*tokens[:-lost], "*"]
    return "".join(tokens)
