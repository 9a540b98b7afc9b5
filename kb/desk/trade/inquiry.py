"""One inquiry of a list, and its answer as columns: what `kb batch` reads and writes, whatever the file format.

Columns that are read, in any order and case: part (or part_number), maker, model, wear, one for each kind of evidence (`kb.words.evidence`: serial,
mark, saw ...), assembly, return_cost, sale_value; several pieces in one cell are separated by `;`. A heading may carry half of the notation:
`mark arbor-housing@left` with V2141 below it is `--mark arbor-housing@left=V2141`. `unit` may hold evidence in its JSON form. Other columns are
only carried along. Without a part the answer is one row for each part that fits or may fit the unit.
"""

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kb.desk.fitment.fits import UnitFitments
from kb.desk.sentences.names import model_name
from kb.desk.trade.sale import order, overall, question
from kb.probability.inference.costs import Costs
from kb.words.answers.fitment import Fit
from kb.words.errors import DataError
from kb.words.evidence import CONTEXT, WRITTEN, Evidence

ANSWERS = (
    "answer_part", "description", "verdict", "probability", "against", "places", "current", "order", "ask", "reasons", "cautions", "unit", "error",
)  # fmt: skip
NUMBERS = frozenset({"probability", "against"})
_SINGLE = {"part": "part", "part_number": "part", "assembly": "assembly", "return_cost": "return_cost", "sale_value": "sale_value", "unit": "unit"}
_CONTEXT = {each.name: each.name for each in CONTEXT}
_PIECES = {column: kind.field for kind in WRITTEN for column in kind.columns}
_BETWEEN = {kind.field: kind.between for kind in WRITTEN}
_HEADING = re.compile(r"([a-z][a-z_ -]*?)(?:\s*[:=]\s*|\s+)(\S.*)")


@dataclass(frozen=True)
class Inquiry:
    """What one row asks. part "": which parts fit at all."""

    part: str
    assembly: str
    evidence: Evidence
    costs: Costs | None


@dataclass(frozen=True)
class Heading:
    """What a column is read as: the field, and the half of the notation that stands in the heading."""

    field: str
    before: str = ""


def heading(text: str) -> Heading | None:
    """What a column with this heading holds; None if it is only carried along.

    >>> heading("Part number"), heading("mark arbor-housing@left"), heading("Customer")
    (Heading(field='part', before=''), Heading(field='marks', before='arbor-housing@left'), None)
    """
    name = re.sub(r"[\s-]+", "_", text.strip().lower())
    known = {**_SINGLE, **_CONTEXT, **_PIECES}
    if name in known:
        return Heading(known[name])
    halves = _HEADING.fullmatch(text.strip().lower())
    field = known.get(re.sub(r"[\s-]+", "_", halves[1])) if halves else None
    return Heading(field, halves[2]) if halves and field in _BETWEEN else None


def parse(row: Mapping[str, Any], headings: Mapping[str, Heading]) -> Inquiry:
    """One row as an inquiry. Values are text, or what JSON has: lists and objects as `Evidence` takes them.

    Raises:
        DataError: a cell cannot be read, or the row asks nothing.
    """
    single: dict[str, str] = {}
    evidence: dict[str, Any] = {}
    for column, value in row.items():
        found = headings.get(column)
        if found is None or value is None or value == "":
            continue
        if found.field in _BETWEEN:
            evidence.setdefault(found.field, []).extend(_pieces(value, found.before, _BETWEEN[found.field]))
        elif found.field in _CONTEXT:
            evidence[found.field] = str(value)
        elif found.field == "unit":
            evidence = _of_unit(value, evidence)
        else:
            single[found.field] = str(value).strip()
    asked = Inquiry(single.get("part", ""), single.get("assembly", ""), Evidence.read(evidence), _costs(single))
    if not asked.part and asked.evidence.empty:
        raise DataError("The row asks nothing.", "Give a part, a unit, or both.")
    return asked


def answer(counter: UnitFitments, part_number: str, fits: Sequence[Fit]) -> dict[str, Any]:
    """The answer columns for one part of one unit."""
    first = fits[0]
    return blank() | {
        "answer_part": part_number,
        "description": first.description,
        "verdict": overall(fits),
        "probability": round(min(fit.probability for fit in fits), 4),
        "against": round(max(fit.against for fit in fits), 4),
        "places": "; ".join(f"{fit.name}: {fit.verdict}" for fit in fits if fit.name),
        "current": "; ".join(_each(f"{ships.part_number}: {ships.verdict}" for fit in fits for ships in fit.current)),
        "order": "; ".join(f"{line.quantity:g} x {line.part_number}" for line in order(counter, fits)),
        "ask": question(counter, fits),
        "reasons": " ".join(_each(_sentence(reason) for fit in fits for reason in [*fit.because, *fit.notes])),
        "cautions": " ".join(_each(caution for fit in fits for caution in fit.cautions)),
        "unit": _unit(counter),
    }


def refused(problem: str) -> dict[str, Any]:
    """The answer columns of a row that cannot be answered."""
    return blank() | {"error": problem}


def blank() -> dict[str, Any]:
    """Answer columns with nothing in them."""
    return {name: None if name in NUMBERS else "" for name in ANSWERS}


def by_part(fits: Iterable[Fit]) -> dict[str, list[Fit]]:
    """The entries of each part, in their order."""
    found: dict[str, list[Fit]] = {}
    for fit in fits:
        found.setdefault(fit.part_number, []).append(fit)
    return found


def _pieces(value: Any, before: str, mark: str) -> list[Any]:
    """Pieces of evidence in one cell. before: what of each stands in the heading; mark: what stands between."""
    if isinstance(value, str):
        texts = [text.strip() for text in value.split(";") if text.strip()]
        return [f"{before}{'' if before.endswith(mark) or text.startswith(mark) else mark}{text}" if before else text for text in texts]
    if isinstance(value, Mapping) and not {"reading", "what"} & value.keys():
        return [f"{key}{mark}{one}" for key, many in value.items() for one in (many if isinstance(many, list | tuple) else [many])]
    if isinstance(value, list | tuple):
        return [f"{before}{mark}{one}" if before and isinstance(one, str) else one for one in value]
    return [f"{before}{mark}{value}" if before else str(value) if not isinstance(value, Mapping) else value]


def _of_unit(value: Any, others: dict[str, Any]) -> dict[str, Any]:
    """Evidence in its JSON form, with what other columns say."""
    if isinstance(value, str):
        try:
            value = json.loads(value)
        except (ValueError, RecursionError) as error:
            raise DataError(f"unit is not JSON: {error}.", 'Write {"serial": "2?5[38]61"}.') from error
    return Evidence.read(value).adding(**others).model_dump(mode="json")


def _costs(single: Mapping[str, str]) -> Costs | None:
    if "return_cost" not in single and "sale_value" not in single:
        return None
    amounts = []
    for name in Costs._fields:
        text = single.get(name, "")
        try:
            amounts.append(float(text.replace(",", ".")))
        except ValueError:
            raise DataError(f'{name} "{text}" is no amount.', "Give return_cost and sale_value together, as numbers.") from None
    return Costs(*amounts)


def _unit(counter: UnitFitments) -> str:
    """The most probable unit, in words."""
    found = counter.found
    if found.unknown:
        return f"not in this knowledge base ({found.probability_unknown:.2f})"
    best = found.entries[0]
    return f"{model_name(counter.book, best.maker, best.model)} ({best.probability:.2f})"


def _each(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))


def _sentence(text: str) -> str:
    return text if text.endswith((".", "?", "!")) else f"{text}."
