"""Pictures by content, without position data, without programs. Source: W3C PNG, ITU-T T.81, TIFF 6.0; SVG dangers: common practice."""

import struct
import tracemalloc
import zlib
from pathlib import Path

import pytest

from kb.dataset.pictures import LARGEST, clean, clean_file
from kb.words.errors import DataError


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(*extra: bytes) -> bytes:
    """One black pixel."""
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + b"".join(extra) + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")


def segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body


def exif(orientation: int, order: str = "<") -> bytes:
    """An Exif segment with an orientation and a pointer to GPS data, some of which follow."""
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", 8)
    entries = struct.pack(order + "H", 2) + struct.pack(order + "HHIHH", 0x0112, 3, 1, orientation, 0) + struct.pack(order + "HHII", 0x8825, 4, 1, 38)
    return segment(0xE1, b"Exif\0\0" + head + entries + struct.pack(order + "I", 0) + b"N 52 13 GPS")


SCAN = segment(0xDA, b"\1\1\0\0\x3f\0") + b"\x12\xff\x00\x34\xff\xd0\x56"
JFIF = segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0")


def jpeg(*extra: bytes, end: bytes = b"\xff\xd9") -> bytes:
    return b"\xff\xd8" + b"".join(extra) + segment(0xDB, b"\0" * 65) + SCAN + end


def svg(inside: str = "", more: str = "") -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {more}>{inside}</svg>'.encode()


@pytest.mark.parametrize(("data", "media_type", "kept"), [
    (png(), "image/png", png()),
    (png(chunk(b"eXIf", b"II*\0GPS")), "image/png", png()),
    (png(chunk(b"tEXt", b"Comment\0GPS"), chunk(b"iTXt", b"XML:com.adobe.xmp\0GPS"), chunk(b"gAMA", b"\0\1\2\3")), "image/png",
     png(chunk(b"gAMA", b"\0\1\2\3"))),
    (png() + b"GPS behind the end", "image/png", png()),
    (jpeg(JFIF), "image/jpeg", jpeg(JFIF)),
    (jpeg(JFIF, exif(1)), "image/jpeg", jpeg(JFIF)),
    (jpeg(segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0GPS"), segment(0xED, b"Photoshop GPS"), segment(0xFE, b"GPS")), "image/jpeg", jpeg()),
    (jpeg(segment(0xE2, b"ICC_PROFILE\0x")), "image/jpeg", jpeg(segment(0xE2, b"ICC_PROFILE\0x"))),
    (jpeg(segment(0xE2, b"MPF\0x")) + jpeg(exif(1)), "image/jpeg", jpeg()),  # a second picture behind the first
    (jpeg(end=segment(0xC4, b"\0") + SCAN + b"\xff\xd9"), "image/jpeg", jpeg(end=segment(0xC4, b"\0") + SCAN + b"\xff\xd9")),  # two scans
    (svg("<path d='M0 0'/>"), "image/svg+xml", svg("<path d='M0 0'/>")),
    (svg('<use xlink:href="#a"/><rect fill="url(#g)" style="fill:url(\'#g\')"/><style>a{fill:url( #b )}</style>'), "image/svg+xml", None),
    (b'<?xml version="1.0"?><!-- drawn by hand -->' + svg(), "image/svg+xml", None),
    (svg('<image href="data:image/png;base64,AAAA"/>'), "image/svg+xml", None),
])  # fmt: skip
def test_a_picture_is_stored_without_what_does_not_belong_to_it(data: bytes, media_type: str, kept: bytes | None) -> None:
    image = clean(data)
    assert image.media_type == media_type
    assert image.data == (data if kept is None else kept)
    assert b"GPS" not in image.data


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("orientation", range(2, 9))
def test_only_which_way_up_stays_of_the_exif_data(order: str, orientation: int) -> None:
    once = clean(jpeg(JFIF, exif(orientation, order))).data
    assert b"GPS" not in once
    at = once.index(b"Exif\0\0MM\0*")
    assert struct.unpack_from(">H", once, at + 6 + 8 + 2 + 8) == (orientation,)
    assert clean(once).data == once


@pytest.mark.parametrize(("data", "words"), [
    (b"", "no PNG, JPEG or SVG"),
    (b"GIF89a", "no PNG, JPEG or SVG"),
    (b"<html><body>svg</body></html>", "no PNG, JPEG or SVG"),
    (b"<html><svg></svg></html>", "no PNG, JPEG or SVG"),
    (png() + b"\0" * LARGEST, "more than 2 MB"),
    (png()[:-8], "PNG picture is damaged"),
    (jpeg()[:-2], "JPEG picture is damaged"),
    (jpeg()[:20], "JPEG picture is damaged"),
    (b"\xff\xd8\xff\xe1\x00\x00", "JPEG picture is damaged"),
    (svg("<script>alert(1)</script>"), "<script>"),
    (svg('<x:script xmlns:x="http://www.w3.org/2000/svg">alert(1)</x:script>'), "<script>"),
    (svg("<foreignObject><p/></foreignObject>"), "<foreignobject>"),
    (svg(more='onload="alert(1)"'), "onload="),
    (svg('<a xlink:href=" java\nscript:alert(1)"/>'), "could run a program"),
    (svg('<set attributeName="xlink:href" to="#a"/>'), "could run a program"),
    (svg('<image href="https://example.org/a.png"/>'), "from elsewhere"),
    (svg('<image href="data:image/svg+xml;base64,AAAA"/>'), "from elsewhere"),
    (svg('<rect style="fill:url(https://example.org/a)"/>'), "from elsewhere"),
    (svg("<style>@import 'https://example.org/a.css';</style>"), "from elsewhere"),
    (svg("<style>a{fill:u\\72l(https://example.org/a)}</style>"), "from elsewhere"),
    (b'<!DOCTYPE svg [<!ENTITY a "b">]>' + svg(), "document type"),
    (b'<?xml-stylesheet href="a.css"?>' + svg(), "stylesheet"),
    (svg("<g>")[:-6], "cannot be read"),
])  # fmt: skip
def test_what_is_no_harmless_picture_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(DataError, match=words) as refused:
        clean(data)
    assert refused.value.remedy


def test_a_file_that_is_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    """Three gigabytes by their length alone: reading them would take the memory that they claim."""
    huge = tmp_path / "huge.png"
    with huge.open("wb") as file:
        file.truncate(3 * 1024**3)
    tracemalloc.start()
    try:
        with pytest.raises(DataError, match="The picture has 3072.0 MB, more than 2 MB"):
            clean_file(huge)
        assert tracemalloc.get_traced_memory()[1] < 1024**2
    finally:
        tracemalloc.stop()
