"""What the file says of part numbers: parts, fitments with their conditions, supersessions, dimensions, contents of kits."""

from typing import NamedTuple

from kb.store.book import Book
from kb.store.rows import DimensionRow, FitmentConditionRow, FitmentRow, PartRow, SupersessionInOrderRow


class NumberRow(NamedTuple):
    """A part number, and the form in which numbers are compared."""

    normal: str
    part_number: str


class KitRow(NamedTuple):
    """A part in a kit, with the description of the one that was not asked for."""

    kit_number: str
    part_number: str
    quantity: float
    description: str


class _HeirRow(NamedTuple):
    to_part: str


class _CountRow(NamedTuple):
    maker_id: str
    number: int


class _NameRow(NamedTuple):
    dimension: str


Ruled = tuple[FitmentRow, list[FitmentConditionRow]]
_IN_FORCE = "from fitments f join components c using (component_id) where {} and f.retracted is null"
_CONNECTED = "select rowid as position, * from supersessions where (old_part = ? or new_part = ?) and retracted is null"
_IN_KIT = "select c.kit_number, c.part_number, c.quantity, p.description from contents c join parts p on p.part_number = c.{} where c.{} = ?"


def part(book: Book, part_number: str) -> PartRow | None:
    """The part with exactly this number."""
    return book.first(PartRow, "select * from parts where part_number = ?", part_number)


def parts_of_form(book: Book, normal: str) -> list[PartRow]:
    """The parts whose number has this normal form; several makers may use one number."""
    return book.select(PartRow, "select * from parts where normal = ? order by part_number", normal)


def numbers(book: Book) -> list[NumberRow]:
    """All part numbers."""
    return book.select(NumberRow, "select normal, part_number from parts order by part_number")


def heirs(book: Book, maker_id: str) -> set[str]:
    """The numbers that follow those with fitments at a maker's components."""
    sql = (
        "select distinct s.to_part from supersession_closure s join fitments f on f.part_number = s.from_part"
        " join components c using (component_id) where c.maker_id = ?"
    )
    return {row.to_part for row in book.select(_HeirRow, sql, maker_id)}


def supersessions_of(book: Book, part_number: str) -> list[SupersessionInOrderRow]:
    """The supersessions in force from or to a number."""
    return book.select(SupersessionInOrderRow, _CONNECTED, part_number, part_number)


def fitments_of_part(book: Book, part_number: str) -> list[Ruled]:
    """The fitments in force of a part, each with its further conditions."""
    return _ruled(book, "f.part_number = ?", part_number)


def fitments_in_role(book: Book, component_id: str, role: str) -> list[Ruled]:
    """Those of any part in one role of a component."""
    return _ruled(book, "f.component_id = ? and f.role = ?", component_id, role)


def fitments_of_maker(book: Book, maker_id: str) -> list[Ruled]:
    """Those at all components of a maker."""
    return _ruled(book, "c.maker_id = ?", maker_id)


def _ruled(book: Book, where: str, *values: object) -> list[Ruled]:
    in_force = _IN_FORCE.format(where)
    conditions: dict[str, list[FitmentConditionRow]] = {}
    further = f"select * from fitment_conditions where fitment_id in (select f.fitment_id {in_force}) order by rowid"
    for row in book.select(FitmentConditionRow, further, *values):
        conditions.setdefault(row.fitment_id, []).append(row)
    return [(row, conditions.get(row.fitment_id, [])) for row in book.select(FitmentRow, f"select f.* {in_force} order by f.rowid", *values)]


def fitments_by_maker(book: Book) -> dict[str, int]:
    """How many fitments each maker has."""
    sql = "select c.maker_id, count(*) as number from fitments f join components c using (component_id) group by c.maker_id"
    return {row.maker_id: row.number for row in book.select(_CountRow, sql)}


def fitments_named(book: Book, part_number: str) -> list[FitmentRow]:
    """The fitments in force of a part alone, in file order."""
    return book.select(FitmentRow, "select * from fitments where part_number = ? and retracted is null order by rowid", part_number)


def replaced_by(book: Book, part_number: str) -> list[SupersessionInOrderRow]:
    """The supersessions in force that lead to a number."""
    return book.select(
        SupersessionInOrderRow, "select rowid as position, * from supersessions where new_part = ? and retracted is null order by rowid", part_number
    )


def dimensions(book: Book, part_number: str) -> list[DimensionRow]:
    """The measures of a part, in file order."""
    return book.select(DimensionRow, "select * from dimensions where part_number = ? order by rowid", part_number)


def all_dimensions(book: Book) -> list[DimensionRow]:
    """The measures of all parts, in file order."""
    return book.select(DimensionRow, "select * from dimensions order by rowid")


def thickness(book: Book, part_number: str) -> DimensionRow | None:
    """How thick a part is."""
    return next((row for row in dimensions(book, part_number) if row.dimension == "thickness"), None)


def dimension_names(book: Book) -> list[str]:
    """What is measured on any part."""
    return [row.dimension for row in book.select(_NameRow, "select distinct dimension from dimensions")]


def contents(book: Book, kit_number: str) -> list[KitRow]:
    """What a kit holds."""
    return book.select(KitRow, _IN_KIT.format("part_number", "kit_number") + " order by c.rowid", kit_number)


def kits_with(book: Book, part_number: str) -> list[KitRow]:
    """The kits that hold a part."""
    return book.select(KitRow, _IN_KIT.format("kit_number", "part_number") + " order by c.rowid", part_number)
