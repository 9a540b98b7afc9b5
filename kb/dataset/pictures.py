"""Pictures: PNG, JPEG or SVG, recognised by their content; where a photograph was taken is nobody's business and is removed.

Layouts: PNG, W3C Portable Network Graphics (Third Edition), 5; JPEG, ITU-T T.81, annex B; orientation, TIFF 6.0 tag 274 inside Exif.
All descriptive data of a photograph are removed (Exif, XMP, IPTC, texts, further images after the first); only its orientation stays.
An SVG can run programs or fetch things from elsewhere: such files are refused, not mended.
"""

import re
import struct
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

from kb.words.errors import DataError

LARGEST = 2 * 1024 * 1024  # bytes
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_DROPPED = (b"eXIf", b"tEXt", b"zTXt", b"iTXt", b"tIME")
_ORIENTATION = 0x0112
_SVG_REFUSED = ("script", "foreignobject", "iframe", "object", "embed", "audio", "video", "handler", "listener")
_URL = re.compile(r"url\(([^)]*)", re.IGNORECASE)
_IN_STYLE = re.compile(r"@import|expression\(|\\", re.IGNORECASE)
_INSIDE_LINK = re.compile(r"#|data:image/(?:png|jpeg);", re.IGNORECASE)


@dataclass(frozen=True)
class Image:
    """The bytes to be stored, and what they are."""

    media_type: str
    data: bytes


def clean_file(path: Path) -> Image:
    """A picture file without position data. One that is too large is refused before it is read.

    Raises:
        DataError: as `clean`.
        OSError: it cannot be read.
    """
    size = path.stat().st_size
    if size > LARGEST:
        raise _too_large(size)
    return clean(path.read_bytes())


def clean(data: bytes) -> Image:
    """A picture without position data.

    Raises:
        DataError: larger than 2 MB, none of the three kinds, damaged, or an SVG with scripts or links to elsewhere.
    """
    if len(data) > LARGEST:
        raise _too_large(len(data))
    if data.startswith(_PNG):
        return Image("image/png", _png(data))
    if data.startswith(b"\xff\xd8\xff"):
        return Image("image/jpeg", _jpeg(data))
    if b"<svg" in data[:4096].lower() or b":svg" in data[:4096].lower():
        return Image("image/svg+xml", _svg(data))
    raise DataError("The file is no PNG, JPEG or SVG picture, whatever its name says.", "Save it as one of these three.")


def _png(data: bytes) -> bytes:
    kept, at = [_PNG], len(_PNG)
    while at + 12 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        kind, end = data[at + 4 : at + 8], at + 12 + length
        if end > len(data):
            break
        if kind not in _PNG_DROPPED:
            kept.append(data[at:end])
        if kind == b"IEND":
            return b"".join(kept)
        at = end
    raise _damaged("PNG")


def _jpeg(data: bytes) -> bytes:
    """Walk the segments up to the end of the first image; of the application segments only JFIF, colour profile and Adobe's stay."""
    kept, at = [b"\xff\xd8"], 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill
            at += 1
            continue
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if end > len(data) or end < at + 4:
            break
        body = data[at + 4 : end]
        if marker == 0xE1 and body.startswith(b"Exif\0\0") and (turned := _orientation(body[6:])):
            kept.append(_exif_of(turned))
        if marker in (0xE0, 0xEE) or (marker == 0xE2 and body.startswith(b"ICC_PROFILE\0")) or not (0xE0 <= marker <= 0xEF or marker == 0xFE):
            kept.append(data[at:end])
        at = end
        if marker == 0xDA:
            at = _scan_end(data, end)
            kept.append(data[end:at])
        if data[at : at + 2] == b"\xff\xd9":
            return b"".join([*kept, b"\xff\xd9"])
    raise _damaged("JPEG")


def _scan_end(data: bytes, at: int) -> int:
    """Where the compressed data end: at the next marker that is neither a stuffed zero nor a restart."""
    while (at := data.find(b"\xff", at)) >= 0 and at + 1 < len(data):
        if data[at + 1] == 0xFF:
            at += 1
        elif data[at + 1] == 0 or 0xD0 <= data[at + 1] <= 0xD7:
            at += 2
        else:
            return at
    raise _damaged("JPEG")


def _orientation(tiff: bytes) -> int:
    """The orientation of the photograph, 2..8; 0 if it is upright or not given."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    if order is None or len(tiff) < 8:
        return 0
    (start,) = struct.unpack_from(order + "I", tiff, 4)
    if start + 2 > len(tiff):
        return 0
    (count,) = struct.unpack_from(order + "H", tiff, start)
    for entry in range(start + 2, min(start + 2 + 12 * count, len(tiff) - 11), 12):
        tag, kind, _, value = struct.unpack_from(order + "HHIH", tiff, entry)
        if tag == _ORIENTATION and kind == 3:
            return int(value) if 2 <= value <= 8 else 0
    return 0


def _exif_of(orientation: int) -> bytes:
    """An Exif segment that gives only the orientation."""
    tiff = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, _ORIENTATION, 3, 1, orientation, 0, 0)
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def _svg(data: bytes) -> bytes:
    if re.search(rb"<!DOCTYPE|<!ENTITY|<\?xml-stylesheet", data, re.IGNORECASE):
        raise DataError("The SVG declares a document type, entities or a stylesheet.", "Export it as plain SVG.")
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise DataError(f"The SVG cannot be read ({error}).", "Export it again as plain SVG.") from error
    if _local(root.tag) != "svg":
        raise DataError("The file is no PNG, JPEG or SVG picture, whatever its name says.", "Save it as one of these three.")
    for element in root.iter():
        if (name := _local(element.tag)) in _SVG_REFUSED:
            raise DataError(f"The SVG contains <{name}>, which could run a program.", "Export it as plain SVG, without scripts.")
        if name == "style":
            _style("".join(element.itertext()))
        for attribute, value in element.attrib.items():
            _attribute(_local(attribute), value.strip())
    return data


def _attribute(name: str, value: str) -> None:
    if (
        name.startswith("on")
        or "javascript:" in "".join(value.split()).lower()
        or (name == "attributename" and _local(value) in ("href", "xlink:href"))
    ):
        raise DataError(f"The SVG contains {name}=..., which could run a program.", "Export it as plain SVG, without scripts.")
    if name in ("href", "src") and not _INSIDE_LINK.match(value):
        raise _elsewhere()
    _style(value)


def _style(text: str) -> None:
    """A style sheet, or the value of an attribute, which may be a style."""
    if _IN_STYLE.search(text) or not all(_INSIDE_LINK.match(url.strip(" \t\r\n'\"")) for url in _URL.findall(text)):
        raise _elsewhere()


def _local(name: object) -> str:
    """An XML name without its namespace, in lower case; "" for comments and instructions."""
    return name.rpartition("}")[2].lower() if isinstance(name, str) else ""


def _elsewhere() -> DataError:
    return DataError("The SVG fetches something from elsewhere.", "Put fonts and pictures inside it, or export it as plain SVG.")


def _too_large(size: int) -> DataError:
    return DataError(f"The picture has {size / 1024 / 1024:.1f} MB, more than 2 MB.", "Make it smaller; 1600 pixels across are enough.")


def _damaged(kind: str) -> DataError:
    return DataError(f"The {kind} picture is damaged: it ends too early.", "Copy it again, or save it again from a picture program.")
