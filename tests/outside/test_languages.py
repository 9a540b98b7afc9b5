"""The catalogues of listings are complete and current, judged by Babel (https://babel.pocoo.org), which knows the formats of gettext."""

import gettext
import io
import re
from pathlib import Path

import pytest
from babel.messages.checkers import checkers
from babel.messages.pofile import read_po

from docs.languages import catalogues, compiled, messages
from kb.desk.sentences.languages import LANGUAGES, translator


def test_every_language_but_english_has_a_catalogue() -> None:
    assert {path.parent.parent.name for path in catalogues()} == set(LANGUAGES) - {"en"}


def test_what_is_translated_is_found_in_the_program() -> None:
    assert len(list(messages())) >= 12
    assert {"and", "or", "Fits {units}."} <= set(messages())


@pytest.mark.parametrize("path", catalogues(), ids=lambda path: path.parent.parent.name)
def test_a_catalogue_is_complete_and_says_nothing_else(path: Path) -> None:
    with path.open("rb") as opened:
        catalogue = read_po(opened, locale=path.parent.parent.name, abort_invalid=True)
    said = {str(message.id): str(message.string) for message in catalogue if message.id}
    assert set(said) == set(messages())
    for english, other in said.items():
        assert other.strip(), english
        assert sorted(re.findall(r"{\w+}", english)) == sorted(re.findall(r"{\w+}", other)), english
    for message in catalogue:
        for check in checkers:
            check(catalogue, message)


@pytest.mark.parametrize("path", catalogues(), ids=lambda path: path.parent.parent.name)
def test_a_compiled_catalogue_is_current(path: Path) -> None:
    with path.with_suffix(".mo").open("rb") as opened:
        used, wanted = gettext.GNUTranslations(opened), gettext.GNUTranslations(io.BytesIO(compiled(path)))
    assert [used.gettext(m) for m in messages()] == [wanted.gettext(m) for m in messages()], "stale: python docs/languages.py"


def test_english_is_what_the_program_says() -> None:
    assert all(translator("en")(message) == message for message in messages())
