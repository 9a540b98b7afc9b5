"""Options that commands share, each defined once."""

import functools
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
from pydantic import BaseModel

from kb.probability.inference.costs import Costs
from kb.words.errors import DataError, FileError
from kb.words.evidence import CONTEXT, WEAR, WHICH_UNITS, WRITTEN, Evidence

Function = Callable[..., Any]

database_option = click.option(
    "--db", metavar="FILE", default="kb.db", envvar="KB_DB", show_envvar=True, show_default=True, help="The knowledge base that kb build wrote."
)
force_option = click.option("--force", is_flag=True, help="Replace a file that is there already and is something else.")
json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
wear_option = click.option("--wear", type=click.Choice(WEAR.choices), help=WEAR.help)
for_option = click.option(
    "--for", "for_", type=click.Choice(["fitted", "as-built"]), default="fitted", show_default=True,
    help="The unit as it is now, or as it left the works.",
)  # fmt: skip

_COSTS = (
    click.option("--return-cost", type=click.FloatRange(0, min_open=True), metavar="AMOUNT", help="What a part that comes back costs you."),
    click.option("--sale-value", type=click.FloatRange(0, min_open=True), metavar="AMOUNT", help="What a sale brings; a no loses it."),
)

_EVIDENCE = (
    *(click.option(f"--{each.name}", metavar=each.name.upper(), help=each.help) for each in WHICH_UNITS),
    *(click.option(kind.option, kind.name, multiple=True, metavar=kind.notation, help=kind.help) for kind in WRITTEN),
    wear_option,
    click.option("--unit", metavar="FILE", help="Evidence as JSON, or an answer of kb identify --json; - is standard input."),
    click.option(
        "--replaced-rate", type=click.FloatRange(0, 1), metavar="0..1", help="How often castings were replaced, instead of the recorded rates."
    ),
)  # fmt: skip


def cost_options(command: Function) -> Function:
    """What a wrong sale and a lost sale cost. The command is called with `costs`, None if they are not given."""

    @functools.wraps(command)
    def stated(*arguments: Any, return_cost: float | None, sale_value: float | None, **others: Any) -> Any:
        if (return_cost is None) is not (sale_value is None):
            raise click.UsageError("Give --return-cost and --sale-value together, in one currency.")
        return command(*arguments, costs=None if return_cost is None else Costs(return_cost, sale_value), **others)

    return functools.reduce(lambda decorated, option: option(decorated), reversed(_COSTS), stated)


def evidence_options(command: Function) -> Function:
    """All options that say what is known about a unit. The command is called with `evidence` and `replaced_rate`."""

    @functools.wraps(command)
    def gathered(*arguments: Any, unit: str | None, **others: Any) -> Any:
        typed = {each.name: others.pop(each.name) for each in CONTEXT} | {kind.field: others.pop(kind.name) for kind in WRITTEN}
        evidence = (read_unit(unit) if unit else Evidence()).adding(**typed)
        return command(*arguments, evidence=evidence, **others)

    return functools.reduce(lambda decorated, option: option(decorated), reversed(_EVIDENCE), gathered)


def read_unit(name: str) -> Evidence:
    """Evidence from a JSON file; an answer of `kb identify --json` carries its evidence, and is taken too.

    Raises:
        FileError: the file cannot be read.
        DataError: it is not JSON, or not evidence.
    """
    try:
        text = sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8-sig")
    except OSError as error:
        raise FileError(f'"{name}" cannot be read: {error.strerror or error}.', "Name a JSON file with --unit, or - for standard input.") from error
    except UnicodeDecodeError as error:
        raise DataError(f'"{name}" is not text in UTF-8.', "Save it as UTF-8.") from error
    where = "standard input" if name == "-" else f'"{name}"'
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise DataError(f"{where} is not JSON: {error}.", 'Write {"serial": "2?5[38]61", "marks": {"crankcase": "H41?0B"}}.') from error
    if isinstance(plain, dict) and "units" in plain and "evidence" in plain:
        plain = plain["evidence"]
    return Evidence.read(plain)


def save_unit(name: str, found: BaseModel, force: bool = False) -> None:
    """Keep an answer in a file that `--unit` reads again. It may take the place of the one that it came from: that is in it.

    Raises:
        FileError: it cannot be written, or would replace something else.
    """
    from kb.output import writing as output
    from kb.output.kinds import UNIT

    output.write(Path(name), (found.model_dump_json(indent=2) + "\n").encode("utf-8", "replace"), UNIT, force=force)
