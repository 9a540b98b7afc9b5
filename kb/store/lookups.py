"""Look-ups by a number, by words, by a place in a book, and of what a picture shows."""

from collections.abc import Iterable
from typing import NamedTuple

from kb.store.book import Book
from kb.store.rows import PartRow


class CaptionedPictureRow(NamedTuple):
    """A picture without the picture itself."""

    picture_id: str
    caption: str
    alt: str
    credit: str | None
    licence: str | None


class ImageRow(NamedTuple):
    """A picture itself, with what it shows in words."""

    caption: str
    alt: str
    media_type: str
    data: bytes


class MarkedVariantRow(NamedTuple):
    """A variant that bears a mark."""

    component_id: str
    variant_id: str


class _KeyRow(NamedTuple):
    key: str


class _BlockIdRow(NamedTuple):
    block_id: str


class _AssemblyRow(NamedTuple):
    assembly: str


def parts_numbered(book: Book, normal: str, most: int) -> list[tuple[str, str]]:
    """Number and description of the parts with this normalised number."""
    rows = book.select(PartRow, "select * from parts where normal = ? order by rowid limit ?", normal, most)
    return [(row.part_number, row.description) for row in rows]


def with_words(book: Book, table: str, key: str, words: list[str], most: int) -> list[str]:
    """Keys of the rows of parts, components, variants or models that have all words, the best match first; the last word may be a beginning."""
    match = " ".join(f'"{word}"' for word in words) + "*"
    sql = f"select t.{key} as key from {table}_fts f join {table} t on t.rowid = f.rowid where {table}_fts match ? order by rank, t.rowid limit ?"
    return [row.key for row in book.select(_KeyRow, sql, match, most)]


def parts_with_words(book: Book, words: Iterable[str]) -> list[PartRow]:
    """Parts whose number, description or note has all words, or words that begin so."""
    match = " ".join(f'"{word}"*' for word in words)
    sql = "select p.* from parts_fts f join parts p on p.rowid = f.rowid where parts_fts match ? order by rank, p.part_number"
    return book.select(PartRow, sql, match)


def all_parts(book: Book) -> list[PartRow]:
    """Every part, in file order."""
    return book.select(PartRow, "select * from parts order by rowid")


def parts_in_book(book: Book, figure: str, item: str) -> list[PartRow]:
    """Parts at a place of a parts list; "" is any figure or item."""
    return book.select(
        PartRow,
        "select distinct p.* from fitments f join parts p using (part_number) where f.retracted is null"
        " and (? = '' or lower(f.figure) = lower(?)) and (? = '' or lower(f.item) = lower(?)) order by p.rowid",
        figure,
        figure,
        item,
        item,
    )


def description_of(book: Book, part_number: str) -> str:
    """The description of a part."""
    row = book.first(PartRow, "select * from parts where part_number = ?", part_number)
    return row.description if row else ""


def variants_marked(book: Book, normal: str) -> list[MarkedVariantRow]:
    """The variants that bear a mark of this normal form."""
    return book.select(
        MarkedVariantRow,
        "select distinct v.component_id, v.variant_id from marks m join mark_variants mv using (mark_id) join variants v using (variant_id)"
        " where m.normal = ? order by v.rowid",
        normal,
    )


def pictures(book: Book, shows: str, shows_id: str) -> list[CaptionedPictureRow]:
    """The pictures of one thing, without the pictures themselves."""
    sql = "select picture_id, caption, alt, credit, licence from pictures where shows = ? and shows_id = ? order by rowid"
    return book.select(CaptionedPictureRow, sql, shows, shows_id)


def images(book: Book, shows: str, shows_id: str) -> list[ImageRow]:
    """The pictures of one thing."""
    sql = "select caption, alt, media_type, data from pictures where shows = ? and shows_id = ? order by rowid"
    return book.select(ImageRow, sql, shows, shows_id)


def image(book: Book, picture_id: str) -> ImageRow | None:
    """One picture."""
    return book.first(ImageRow, "select caption, alt, media_type, data from pictures where picture_id = ?", picture_id)


def blocks_of_model(book: Book, model_id: str) -> set[str]:
    """The blocks that have units of a model."""
    return {row.block_id for row in book.select(_BlockIdRow, "select block_id from line_block_models where model_id = ?", model_id)}


def assemblies_with_procedure(book: Book, maker_id: str) -> set[str]:
    """The assemblies of a maker for which there is a procedure."""
    return {row.assembly for row in book.select(_AssemblyRow, "select distinct assembly from procedures where maker_id = ?", maker_id)}
