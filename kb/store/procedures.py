"""What the file says of work: procedures, their steps, the parts that steps need."""

from typing import NamedTuple

from kb.store.book import Book
from kb.store.rows import ProcedureRow, StepPartRow, StepRow


class UsedInRow(NamedTuple):
    """A step that uses a part, with its procedure."""

    step_id: str
    text: str
    title: str
    procedure_id: str


class StepPartDescribedRow(NamedTuple):
    """A part that a step needs, with its description."""

    step_id: str
    part_number: str
    quantity: float
    description: str


class BesideRow(NamedTuple):
    """A part that is used in the same step as another one."""

    part_number: str
    title: str


class ShimRow(NamedTuple):
    """A part of a step, or of a kit that the step needs."""

    part_number: str
    quantity: float


class MeasuredStepRow(NamedTuple):
    """A step in which something is measured, with its procedure."""

    step_id: str
    text: str
    measure: str
    variant_id: str | None
    model_id: str | None
    title: str


class _StepIdRow(NamedTuple):
    step_id: str


def procedures(book: Book) -> list[ProcedureRow]:
    """All of them, in file order."""
    return book.select(ProcedureRow, "select * from procedures order by rowid")


def procedures_of(book: Book, maker_id: str) -> list[ProcedureRow]:
    """Those of a maker."""
    return book.select(ProcedureRow, "select * from procedures where maker_id = ? order by rowid", maker_id)


def procedure(book: Book, procedure_id: str) -> ProcedureRow | None:
    """One of them."""
    return book.first(ProcedureRow, "select * from procedures where procedure_id = ?", procedure_id)


def steps_of(book: Book, procedure_id: str) -> list[StepRow]:
    """The steps of a procedure in order."""
    return book.select(StepRow, "select * from steps where procedure_id = ? order by position, rowid", procedure_id)


def step(book: Book, step_id: str) -> StepRow | None:
    """One step."""
    return book.first(StepRow, "select * from steps where step_id = ?", step_id)


def measured_steps(book: Book) -> list[str]:
    """The ids of the steps in which something is measured."""
    return [row.step_id for row in book.select(_StepIdRow, "select step_id from steps where measure is not null order by rowid")]


def steps_with_limits(book: Book, most: int) -> list[MeasuredStepRow]:
    """Steps whose measure has limits, by procedure."""
    return book.select(
        MeasuredStepRow,
        "select s.step_id, s.text, s.measure, s.variant_id, s.model_id, p.title from steps s join procedures p using (procedure_id)"
        " where s.measure is not null and (s.low is not null or s.high is not null) order by p.rowid, s.position limit ?",
        most,
    )


def parts_of_step(book: Book, step_id: str) -> list[StepPartRow]:
    """The parts that a step needs."""
    return book.select(StepPartRow, "select * from step_parts where step_id = ? order by rowid", step_id)


def parts_of_procedure(book: Book, procedure_id: str) -> list[StepPartDescribedRow]:
    """The parts that the steps of a procedure need."""
    return book.select(
        StepPartDescribedRow,
        "select sp.step_id, sp.part_number, sp.quantity, p.description from step_parts sp join steps s using (step_id)"
        " join parts p using (part_number) where s.procedure_id = ? order by sp.rowid",
        procedure_id,
    )


def shims_of_step(book: Book, step_id: str) -> list[ShimRow]:
    """The parts of a step, and what is in them where they are kits."""
    return book.select(
        ShimRow,
        "select part_number, quantity from step_parts where step_id = ? union all"
        " select c.part_number, c.quantity * s.quantity from contents c join step_parts s on s.part_number = c.kit_number where s.step_id = ?",
        step_id,
        step_id,
    )


def uses_of(book: Book, part_number: str) -> list[UsedInRow]:
    """The steps that use a part."""
    return book.select(
        UsedInRow,
        "select s.step_id, s.text, p.title, p.procedure_id from step_parts sp join steps s using (step_id) join procedures p using (procedure_id)"
        " where sp.part_number = ? order by p.procedure_id, s.position",
        part_number,
    )


def used_beside(book: Book, part_number: str) -> list[BesideRow]:
    """The parts used in a step that uses this one."""
    return book.select(
        BesideRow,
        "select b.part_number, p.title from step_parts a join step_parts b using (step_id) join steps s using (step_id)"
        " join procedures p using (procedure_id) where a.part_number = ? and b.part_number != ? order by b.rowid",
        part_number,
        part_number,
    )
