"""Workbooks that are damaged, encrypted or far too large: each is a clear error, quickly and in little memory, never a traceback.

Sources: ISO/IEC 29500 for the parts of a workbook; the ZIP format's local headers, directory and flags (PKWARE APPNOTE); "billion laughs"
(CWE-776) and ZIP bombs (CWE-409).
"""

import io
import random
import tracemalloc
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import openpyxl
import pytest

from kb.words.errors import FileError
from loaders import inquiries, listing, workbook, xlsxguard

Parts = dict[str, bytes]
SHEET, BOOK, TEXTS = "xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/sharedStrings.xml"
READERS: Mapping[str, Callable[[Path], object]] = {"inquiries": inquiries.read, "listing": listing.read, "workbook": workbook.read}


ROWS = (("source_id", "title", "kind", "grade", "x_part"), ("list-1", "List", "other", "A", "6104"), ("list-2", "List", "other", "B", "6105"))


def parts() -> Parts:
    """A small sound workbook, with its texts in a part of their own, as spreadsheets write it."""
    book = openpyxl.Workbook()
    book.worksheets[0].title = "sources"
    made = io.BytesIO()
    book.save(made)
    with zipfile.ZipFile(made) as packed:
        found = {name: packed.read(name) for name in packed.namelist()}
    texts = [text for row in ROWS for text in row]
    cells = [
        "".join(f'<c r="{chr(65 + at)}{row}" t="s"><v>{5 * (row - 1) + at}</v></c>' for at in range(5)) for row in range(1, len(ROWS) + 1)
    ]
    data = "".join(f'<row r="{row}">{each}</row>' for row, each in enumerate(cells, 1))
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    found[SHEET] = f'<worksheet xmlns="{main}"><sheetData>{data}</sheetData></worksheet>'.encode()
    found[TEXTS] = f'<sst xmlns="{main}">{"".join(f"<si><t>{text}</t></si>" for text in texts)}</sst>'.encode()
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    types = found["[Content_Types].xml"].replace(f'<Override ContentType="{kind}" PartName="/{TEXTS}"/>'.encode(), b"")
    found["[Content_Types].xml"] = types.replace(b"</Types>", f'<Override PartName="/{TEXTS}" ContentType="{kind}"/></Types>'.encode())
    return found


def pack(content: Parts) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in content.items():
            packed.writestr(name, data)
    return made.getvalue()


def swapped(name: str, old: bytes, new: bytes) -> bytes:
    content = parts()
    assert old in content[name], (name, old)
    return pack(content | {name: content[name].replace(old, new, 1)})


def without(*names: str) -> bytes:
    return pack({name: data for name, data in parts().items() if name not in names})


def encrypted() -> bytes:
    data = bytearray(pack(parts()))
    for signature, at in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        place = -1
        while (place := data.find(signature, place + 1)) >= 0:
            data[place + at] |= 1
    return bytes(data)


DAMAGED: Mapping[str, Callable[[], bytes]] = {
    "empty": lambda: b"",
    "text": lambda: b"part,serial\n",
    "old format or password": lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1000),
    "cut in half": lambda: pack(parts())[:3000],
    "directory cut off": lambda: pack(parts())[:-30],
    "beginning cut off": lambda: pack(parts())[200:],
    "encrypted parts": encrypted,
    "no content types": lambda: without("[Content_Types].xml"),
    "wrong content types": lambda: pack(parts() | {"[Content_Types].xml": b"<Types/>"}),
    "broken content types": lambda: pack(parts() | {"[Content_Types].xml": b"<Types"}),
    "no workbook part": lambda: without(BOOK),
    "broken workbook part": lambda: pack(parts() | {BOOK: b"<workbook><sheets>"}),
    "no relations": lambda: without("xl/_rels/workbook.xml.rels"),
    "no sheet": lambda: without(SHEET),
    "sheet of another name": lambda: pack({name.replace("sheet1", "sheet9"): data for name, data in parts().items()}),
    "broken sheet": lambda: swapped(SHEET, b"</row>", b"</rwo>"),
    "sheet cut off": lambda: pack(parts() | {SHEET: parts()[SHEET][:-60]}),
    "sheet is binary": lambda: pack(parts() | {SHEET: bytes(range(256))}),
    "broken shared texts": lambda: swapped(TEXTS, b"<si>", b"<no>"),
    "no shared texts": lambda: without(TEXTS),
    "number of a shared text too high": lambda: swapped(SHEET, b"<v>0</v>", b"<v>99999</v>"),
    "entities": lambda: swapped(SHEET, b"<worksheet", b'<!DOCTYPE w [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet'),
    "row 999999999": lambda: swapped(SHEET, b'<row r="2"', b'<row r="999999999"'),
    "column ZZZZZZ": lambda: swapped(SHEET, b'<c r="A2"', b'<c r="ZZZZZZ2"'),
    "a text of 50 MB": lambda: swapped(TEXTS, b"<t>list-1", b"<t>list-1" + bytes([65]) * (50 << 20)),
    "a cell of 40 MB": lambda: swapped(SHEET, b"<v>1</v>", b"<v>" + b"1" * (40 << 20) + b"</v>"),
}


@pytest.mark.parametrize("damage", DAMAGED)
def test_a_damaged_workbook_is_an_error_in_words(damage: str, tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(DAMAGED[damage]())
    for name, read in READERS.items():
        tracemalloc.start()
        with pytest.raises(FileError) as refused:
            read(path)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert refused.value.remedy, name
        assert most < 60 << 20, f"{name}: {most >> 20} MB"


def test_the_sound_workbook_is_read(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(pack(parts()))
    assert len(workbook.read(path).tables["sources"].rows) == 2
    assert len(listing.read(path).rows) == len(inquiries.read(path).rows) == 2


def test_what_unpacks_to_too_much_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A ZIP bomb: 30 MB of blanks in a file of a few thousand bytes, against a limit set lower for the test."""
    path = tmp_path / "book.xlsx"
    path.write_bytes(pack(parts() | {"xl/styles.xml": b"<a> </a>" * (4 << 20)}))
    monkeypatch.setattr(xlsxguard, "MOST_UNPACKED", 16 << 20)
    with pytest.raises(FileError, match="larger than a workbook can be"):
        workbook.read(path)
    path.write_bytes(swapped(TEXTS, b"<si>", b"<si><t>" + b"</t><t>".join([b"x" * 60_000] * 100) + b"</t></si><si>"))
    monkeypatch.setattr(xlsxguard, "MOST_SHARED", 5 << 20)
    with pytest.raises(FileError, match="its texts have more than 5 MB"):
        workbook.read(path)


def test_any_bytes_of_a_workbook_may_be_damaged(tmp_path: Path, campaign: bool) -> None:
    """Ten bytes at random; what is still read is read, anything else is an error in words."""
    dice, sound, path = random.Random(3), pack(parts()), tmp_path / "book.xlsx"
    refused = 0
    for _ in range(2000 if campaign else 60):
        data = bytearray(sound)
        for _ in range(10):
            data[dice.randrange(len(data))] = dice.randrange(256)
        path.write_bytes(data)
        for read in READERS.values():
            try:
                read(path)
            except FileError:
                refused += 1
    assert refused
