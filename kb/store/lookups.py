"""Look-ups by a number, by words and by what a picture shows."""

from typing import Any

from kb.store.book import Book


def parts_numbered(book: Book, normal: str, most: int) -> list[tuple[str, str]]:
    """Number and description of the parts with this normalised number."""
    rows = book.rows("select part_number, description from parts where normal = ? order by rowid limit ?", normal, most)
    return [(row.part_number, row.description) for row in rows]


def with_words(book: Book, table: str, key: str, words: list[str], most: int) -> list[str]:
    """Keys of the rows of parts, components, variants or models that have all words, the best match first; the last word may be a beginning."""
    match = " ".join(f'"{word}"' for word in words) + "*"
    sql = f"select t.{key} as key from {table}_fts f join {table} t on t.rowid = f.rowid where {table}_fts match ? order by rank, t.rowid limit ?"
    return [row.key for row in book.rows(sql, match, most)]


def description_of(book: Book, part_number: str) -> str:
    """The description of a part."""
    row = book.one("select description from parts where part_number = ?", part_number)
    return str(row.description) if row else ""


def pictures(book: Book, shows: str, shows_id: str) -> list[Any]:
    """The pictures of one thing, without the pictures themselves."""
    sql = "select picture_id, caption, alt, credit, licence from pictures where shows = ? and shows_id = ? order by rowid"
    return book.rows(sql, shows, shows_id)
