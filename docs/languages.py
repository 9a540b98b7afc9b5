"""Compile the catalogues of `kb/desk/sentences/locale` with Babel: `python docs/languages.py`. A test says what is missing or stale."""

import io
from collections.abc import Iterator
from pathlib import Path

from babel.messages.extract import extract_from_file
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

DESK = Path(__file__).resolve().parent.parent / "kb" / "desk"
SPEAKING = ("sentences/listing.py", "fitment/units_of_part.py")  # modules that say something through a translator
SAY = {"say": None}


def messages() -> Iterator[str]:
    """Every message of the program that is translated, each once."""
    found: dict[str, None] = {}
    for name in SPEAKING:
        found.update((str(message), None) for _, message, _, _ in extract_from_file("python", DESK / name, keywords=SAY))
    yield from found


def catalogues() -> list[Path]:
    """The catalogues as people edit them."""
    return sorted((DESK / "sentences" / "locale").glob("*/LC_MESSAGES/kb.po"))


def compiled(path: Path) -> bytes:
    """A catalogue as the program reads it."""
    with path.open("rb") as opened:
        catalogue = read_po(opened, locale=path.parent.parent.name, abort_invalid=True)
    target = io.BytesIO()
    write_mo(target, catalogue)
    return target.getvalue()


if __name__ == "__main__":
    for path in catalogues():
        path.with_suffix(".mo").write_bytes(compiled(path))
        print(path.with_suffix(".mo"))
