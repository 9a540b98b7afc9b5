"""A part for a unit as a seller says it: one verdict, the one question to ask, what to order for the whole unit, what goes with it."""

from collections.abc import Iterable, Sequence
from datetime import date

from kb.desk.fitment.fits import UnitFitments
from kb.desk.sentences.checks import look_at_casting
from kb.desk.sentences.fitment import stated_costs
from kb.desk.sentences.trade import NUMBER_AGAIN, ask_customer, measure_before, needs_it, same_casting, same_step, told_apart
from kb.desk.trade import shop
from kb.store.book import Book
from kb.store.procedures import used_beside
from kb.store.rows import PartRow
from kb.words.answers.fitment import Fit
from kb.words.answers.identification import Check
from kb.words.answers.trade import Companion, OrderLine, Sale

BY_PLACE = "differs by place"
MOST_COMPANIONS = 8
MOST_MEANINGS = 4
WORTH_SAYING = 0.01  # display


def sale(counter: UnitFitments, part: PartRow, fits: Sequence[Fit], with_companions: bool, today: date | None = None) -> Sale:
    """Everything that is said over the counter about one part, from its verdicts. today: see `kb.desk.trade.shop.offers`."""
    numbers = [part.part_number, *(ships.part_number for fit in fits for ships in fit.current)]
    return Sale(
        part_number=part.part_number,
        description=part.description,
        verdict=overall(fits),
        fits=list(fits),
        ask=question(counter, fits),
        order=order(counter, fits),
        companions=companions(counter, part, fits) if with_companions else [],
        offers=shop.offers(counter.book, numbers, today),
        outcomes=fits[0].outcomes,
        cautions=list(dict.fromkeys(caution for fit in fits for caution in fit.cautions)),
        assumed=stated_costs(counter.assumptions),
    )


def overall(fits: Sequence[Fit]) -> str:
    """The verdict that holds at every place, or that it differs."""
    verdicts = {fit.verdict for fit in fits}
    return verdicts.pop() if len(verdicts) == 1 else BY_PLACE


def question(counter: UnitFitments, fits: Sequence[Fit]) -> str:
    """The one question to put to the customer: of all checks that are open the one that tells most for its minutes; "" if nothing is open."""
    if counter.found.unknown:
        return NUMBER_AGAIN
    waiting = [fit for fit in fits if fit.verdict == "check first"]
    if not waiting:
        return ""
    measures = list(dict.fromkeys(fit.measure_first for fit in waiting if fit.measure_first))
    if measures:
        return measure_before(measures)
    checks = [(check.gain_bits / check.effort, -i, fit, check) for i, fit in enumerate(waiting) for check in fit.check_next[:1]]
    if not checks:
        return look_at_casting(counter.book, waiting[0].component, waiting[0].place)
    _, _, fit, check = max(checks, key=lambda each: each[:2])
    others = [other.name for other in waiting if other is not fit and _same(check, other, fit)]
    return ask_customer(check.check, _meanings(check, counter.assumptions.clear_at)[:MOST_MEANINGS], others)


def order(counter: UnitFitments, fits: Sequence[Fit]) -> list[OrderLine]:
    """What to order for the whole unit: numbers that can be bought, summed over the places where the part fits or may fit."""
    lines: dict[str, OrderLine] = {}
    wanted = [fit for fit in fits if fit.verdict in ("fits", "check first")]
    maker_of = counter.book.components  # of several makers that the unit may be of, the one where it fits best
    best = max(wanted, key=lambda fit: fit.probability, default=None)
    for fit in wanted:
        if best is None or maker_of[fit.component].maker_id != maker_of[best.component].maker_id:
            continue
        for ships in fit.current:
            line = lines.get(ships.part_number)
            quantity = fit.quantity * ships.quantity
            if line is None:
                part = counter.parts.part(ships.part_number)
                lines[ships.part_number] = OrderLine(
                    part_number=ships.part_number,
                    quantity=quantity,
                    unit=part.unit if part is not None else "each",
                    verdict=ships.verdict,
                    places=[fit.name],
                )
            else:
                worse = line.verdict if line.verdict == ships.verdict else "check first"
                total = line.quantity + (quantity if fit.per == "place" else 0)
                lines[ships.part_number] = line.model_copy(update={"quantity": total, "verdict": worse, "places": [*line.places, fit.name]})
    return list(lines.values())


def companions(counter: UnitFitments, part: PartRow, fits: Sequence[Fit]) -> list[Companion]:
    """Parts that go with one: those that its replacements need, those used in the same step of a procedure, and those of the same assembly
    that fit this unit; each once, by its strongest reason."""
    found: dict[str, Companion] = {}
    for step in counter.hypothesis.current(part.part_number).steps:
        if step.with_part and (needed := counter.parts.part(step.with_part)) is not None:
            per_unit = sum(line.quantity for line in order(counter, fits) if line.part_number == step.new)
            found[step.with_part] = _companion(counter, needed, needs_it(step.new), per_unit)
    for number, title in _in_same_step(counter.book, [part.part_number, *(ships.part_number for fit in fits for ships in fit.current)]):
        if number not in found and (other := counter.parts.part(number)) is not None:
            found[number] = _companion(counter, other, same_step(title), 0.0)
    roles = {(fit.component, fit.role) for fit in fits}
    assemblies = {counter.book.components[fit.component].assembly for fit in fits if fit.component and fit.verdict in ("fits", "check first")}
    beside: dict[str, list[Fit]] = {}
    for assembly in sorted(assemblies):
        for fit in counter.fitting(assembly):
            if fit.verdict == "fits" and (fit.component, fit.role) not in roles and fit.part_number not in found and fit.current:
                beside.setdefault(fit.part_number, []).append(fit)
    mine = {fit.component for fit in fits}
    filled: dict[tuple[str, str], str] = {}  # (component, role) -> the companion that is named for it: what does instead is no second one
    for number, places in sorted(beside.items(), key=lambda each: (each[1][0].component not in mine, -round(each[1][0].probability, 9), each[0])):
        fit = places[0]
        if any(ships.part_number in found or ships.part_number in beside for ships in fit.current if ships.part_number != number):
            continue  # the number that is bought instead is listed itself
        taken = {filled[each.component, each.role] for each in places if (each.component, each.role) in filled}
        if taken and all(_interchangeable(counter, number, other) for other in taken):
            for rival in taken:
                found[rival] = found[rival].model_copy(update={"why": f"{found[rival].why}; or {number}"})
            continue
        filled.update({(each.component, each.role): number for each in places})
        why = same_casting(fit.role, fit.component in mine)
        if (companion := counter.parts.part(number)) is not None:
            found[number] = _companion(counter, companion, why, _per_unit(places))
    return list(found.values())[:MOST_COMPANIONS]


def _interchangeable(counter: UnitFitments, number: str, other: str) -> bool:
    """Whether one number does for the other, both ways."""
    return any(arrow.both_ways and {arrow.old, arrow.new} == {number, other} for arrow in counter.parts.arrows(number))


def _companion(counter: UnitFitments, part: PartRow, why: str, quantity: float) -> Companion:
    fits = counter.fits(part)
    verdict = overall(fits)
    return Companion(
        part_number=part.part_number,
        description=part.description,
        quantity=quantity or _per_unit([fit for fit in fits if fit.verdict in ("fits", "check first")]),
        verdict=verdict if verdict != BY_PLACE else "check first",
        why=why,
    )


def _per_unit(places: Iterable[Fit]) -> float:
    """How many of a part one unit takes, by its entries for the places."""
    total, counted = 0.0, set[tuple[str, str]]()
    for fit in places:
        if fit.per == "place" or (fit.component, fit.role) not in counted:
            total += fit.quantity
            counted.add((fit.component, fit.role))
    return total


def _in_same_step(book: Book, numbers: Sequence[str]) -> list[tuple[str, str]]:
    """(part, procedure) for parts used in a step that uses one of these."""
    found: dict[str, str] = {}
    for number in dict.fromkeys(numbers):
        for row in used_beside(book, number):
            if row.part_number not in numbers:
                found.setdefault(row.part_number, row.title)
    return list(found.items())


def _meanings(check: Check, clear_at: float) -> list[str]:
    """What each answer would mean, short."""
    return [
        told_apart(each.outcome, each.then, each.then_probability, clear=each.then_probability >= clear_at)
        for each in check.outcomes
        if each.probability >= WORTH_SAYING
    ]


def _same(check: Check, other: Fit, fit: Fit) -> bool:
    """Whether another place waits for the same to be looked at there; what is looked at once for both is not the same for the other."""
    here, there = f"({fit.place})", f"({other.place})"
    if other.component != fit.component or here not in check.check:
        return False
    return any(each.check == check.check.replace(here, there) for each in other.check_next)
