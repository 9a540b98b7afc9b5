"""The normal form of everything stamped, cast or printed as a number: what does not count is removed.

Case, spaces, dashes, dots and slashes do not count (docs/model.md, section 1).
"""

import re
import unicodedata

from kb.words.errors import DataError

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_IGNORED = re.compile(r"[\s./\\\-‐-―−]+")


def simplify(text: str) -> str:
    """Upper case, without accents, spaces, dashes, dots and slashes. Other characters stay as they are.

    >>> simplify("h 41-20.b")
    'H4120B'
    """
    if text.isascii():  # nearly always; there is nothing to decompose
        return (text if text.isalnum() else _IGNORED.sub("", text)).upper()
    plain = unicodedata.normalize("NFKD", text)
    return _IGNORED.sub("", "".join(c for c in plain if not unicodedata.combining(c))).upper()


def normalise(text: str) -> str:
    """The A-Z0-9 form of a serial, a mark or a part number.

    Raises:
        DataError: nothing is left, or a character is neither a letter A-Z nor a digit.

    >>> normalise("1407-a")
    '1407A'
    >>> normalise("14*7")
    Traceback (most recent call last):
    kb.words.errors.DataError: "14*7" contains "*". Use only letters A-Z, digits, spaces, dashes, dots and slashes.
    """
    simple = simplify(text)
    if simple.isascii() and simple.isalnum():  # nearly always
        return simple
    for character in simple:
        if character not in ALPHABET:
            raise DataError(f'"{text}" contains "{character}".', "Use only letters A-Z, digits, spaces, dashes, dots and slashes.")
    if not simple:
        raise DataError(f'"{text}" has no letter and no digit.', "Write the number as it is stamped or printed.")
    return simple
