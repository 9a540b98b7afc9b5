"""Catalogues of casting marks in dense families, and worn readings of them by a process that is not the program's table.

Families of 20 to 1,200 consecutive numbers, 30 to 95 % of them cast, with a prefix, some with letters behind: 5 to 10 characters. Worn: 12 % of the
characters cannot be read, 10 % are misread, 5 % one of two (85 % with the true one); 20 % of the readings have lost an end, 4 % lack a
character, 3 % have one too many.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

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


def as_handwriting(rng: np.random.Generator) -> Misread:
    """For a digit, what a nearest-neighbour reader takes handwritten ones (UCI, in scikit-learn) with patches erased for; for a letter, any other."""
    from sklearn.datasets import load_digits
    from sklearn.neighbors import KNeighborsClassifier

    digits = load_digits()
    order = rng.permutation(len(digits.images))
    images, truth = digits.images[order], digits.target[order]
    reader = KNeighborsClassifier(5, metric="cosine").fit(images[:700].reshape(-1, 64), truth[:700])
    counts = np.zeros((10, 10))
    for _ in range(5):
        np.add.at(counts, (truth[700:], reader.predict(erased(images[700:], 4, rng).reshape(-1, 64))), 1)
    np.fill_diagonal(counts, 0)
    of_digits = as_table(counts, DIGITS, rng)

    def misread(character: str) -> str:
        return of_digits(character) if character in DIGITS else str(rng.choice([c for c in ALPHABET if c != character]))

    return misread


def erased(images: NDArray[np.float64], patches: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """The images (N, 8, 8) with patches of 2 x 2 taken out where there is ink."""
    worn = images.copy()
    for image in worn:
        for _ in range(patches):
            rows, columns = np.nonzero(image[:7, :7] > 0)
            if len(rows):
                at = int(rng.integers(len(rows)))
                image[rows[at] : rows[at] + 2, columns[at] : columns[at] + 2] = 0
    return worn


def as_table(misreadings: NDArray[np.float64], characters: str, rng: np.random.Generator) -> Misread:
    """As the off-diagonal entries of a table say, true characters in its rows."""
    chances = misreadings * (1 - np.eye(len(characters)))
    cumulative = np.cumsum(chances / chances.sum(axis=1, keepdims=True), axis=1)

    def misread(character: str) -> str:
        return characters[min(len(characters) - 1, int(np.searchsorted(cumulative[characters.index(character)], rng.random())))]

    return misread


def read_worn(text: str, rng: np.random.Generator, misread: Misread) -> str:
    """A worn reading of a text, in reading notation."""
    return "".join(token for token, _ in read_characters(text, rng, misread))


def read_characters(text: str, rng: np.random.Generator, misread: Misread) -> list[tuple[str, str]]:
    """The tokens of a worn reading, each with the character that it was read from; `*` with none."""
    characters = list(text)
    if rng.random() < 0.04:
        characters.pop(int(rng.integers(len(characters))))
    if rng.random() < 0.03:
        characters.insert(int(rng.integers(len(characters) + 1)), ALPHABET[int(rng.integers(len(ALPHABET)))])
    tokens = []
    for character in characters:
        kind = rng.random()
        if kind < 0.12:
            tokens.append(("?", character))
        elif kind < 0.22:
            tokens.append((misread(character), character))
        elif kind < 0.27:
            one = character if rng.random() < 0.85 else misread(character)
            tokens.append((f"[{one}{misread(character)}]", character))
        else:
            tokens.append((character, character))
    if rng.random() < 0.2:
        lost = int(rng.integers(1, 4))
        tokens = [("*", ""), *tokens[lost:]] if rng.random() < 0.5 else [*tokens[:-lost], ("*", "")]
    return tokens
