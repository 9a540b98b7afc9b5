"""The languages of listings: gettext catalogues under `locale`, the English words being the keys (https://www.gnu.org/software/gettext/manual/).

Only what this program says is translated; names of castings, models and parts stand as the dataset has them. `python docs/languages.py` compiles
the catalogues; a test fails when a message of the program is missing in one.
"""

import gettext
from collections.abc import Callable
from functools import cache
from pathlib import Path

LANGUAGES = ("en", "de", "fr")
LOCALE = Path(__file__).resolve().parent / "locale"


@cache
def translator(language: str) -> Callable[[str], str]:
    """The function that translates a message.

    >>> translator("de")("which casting is fitted"), translator("en")("which casting is fitted")
    ('welches Gussteil verbaut ist', 'which casting is fitted')
    """
    return str if language == "en" else gettext.translation("kb", LOCALE, [language]).gettext
