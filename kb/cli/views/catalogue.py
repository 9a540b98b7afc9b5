"""Variants side by side and what a text may mean, as text (`kb compare`, `kb look`)."""

import shlex

from rich.console import Console

from kb.cli.views.layout import heading, line, point
from kb.desk.sentences import screens
from kb.desk.sentences.numbers import fitted_between, number
from kb.words.answers.catalogue import Comparison, Meaning, Meanings, VariantOf

COMMANDS = {
    "part": "kb trace {}", "unit": "kb identify --serial {}", "casting": "kb casting {}", "model": "kb guide {}", "component": "kb compare {}",
}  # fmt: skip
FOUND_AS = {
    "part": "a part number", "serial": "the serial of a unit", "casting": "a casting number", "model": "a model", "component": "a component",
    "variant": "a variant", "words": "found by its words", "near": "a part number",
}  # fmt: skip


def comparison(answer: Comparison, console: Console) -> None:
    """Every variant: how to tell it, its marks, what its features show, and between which serials it was fitted."""
    line(console, (answer.name.capitalize(), "bold"), indent=0)
    if answer.where_to_look:
        line(console, f"Where to look: {answer.where_to_look}")
    if not answer.variants:
        line(console, screens.NO_VARIANT)
    called = {variant.variant: variant.name for variant in answer.variants}
    for variant in answer.variants:
        _variant(variant, called.get(variant.same_function_as, variant.same_function_as), console)


def _variant(variant: VariantOf, same: str, console: Console) -> None:
    heading(console, variant.name)
    line(console, variant.how_to_tell)
    where = list(dict.fromkeys(mark.where.rstrip(".") for mark in variant.marks if mark.where))
    marks = ", ".join(mark.text for mark in variant.marks) or "none recorded"
    point(console, "-", f"Marks: {marks}" + (f" ({'; '.join(where)})" if where else ""))
    for feature in variant.features:
        if feature.value:
            point(console, "-", f"{feature.question} {feature.value}")
    for span in variant.spans:
        point(console, "-", f"Fitted {fitted_between(span)} ({span.where})")
    if same:
        point(console, "-", f"Does the same as {same}")
    if variant.note:
        point(console, "-", variant.note)


def look(answer: Meanings, console: Console) -> None:
    """The meanings, each with the command that says more."""
    if not answer.meanings:
        line(console, (screens.NOT_HERE, "bold"), f": {screens.nothing_called(answer.asked)}", indent=0)
        return
    near = all(each.kind == "near" for each in answer.meanings)
    line(console, f"{answer.asked} is no number recorded here. Did you mean" if near else f"{answer.asked} may be", indent=0)
    for each in answer.meanings:
        _meaning(each, console)


def _meaning(each: Meaning, console: Console) -> None:
    likely = "" if each.probability is None else f" ({number(each.probability)})"
    point(console, "-", f"{FOUND_AS[each.kind]}: {each.what}{likely}")
    line(console, COMMANDS[each.subject].format(shlex.quote(each.id)), indent=3)
