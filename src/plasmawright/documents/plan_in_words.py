"""A plan for a terminal: numbered bench steps, what to expect, what else could be done, what to take care of."""

from collections.abc import Mapping

from plasmawright.documents.worksheet import mapping, sequence, shares_of
from plasmawright.documents.worksheet_steps import steps_of
from plasmawright.planning.visit import Visit


def plan_in_words(visit: Visit, answer: Mapping[str, object]) -> list[str]:
    """Return the lines of an answer's document."""
    plan = mapping(answer["chosen"])
    lines = ["Predicted, not counted.", str(plan["words"]), ""]
    for number, step in enumerate(steps_of(visit, plan), start=1):
        lines.append(f"{number}. {step.title}: {step.big}.")
        lines += [f"   {line.words}" for line in step.lines]
        if step.parts:
            total = " + ".join(f"{part.what} {part.ml}" for part in step.parts)
            lines.append(f"   {total} = {step.total}")
    lines.append(f"{number + 1}. Share:")
    for share in shares_of(visit, plan):
        side = f", {share.side}" if share.side else ""
        wish = f" ({share.wish})" if share.wish else ""
        lines.append(f"   {share.volume} {share.product} into {share.name}{side}: {share.predicted} platelets{wish}")
    lines += [f"   red cells as wished: {plan['red_cells']}; white cells as wished: {plan['white_cells']}", ""]
    lines.append(f"What limits it: {plan['binding']}")
    lines += [f"Or: {mapping(other)['words']}" for other in sequence(answer["alternatives"])]
    lines.append("")
    for one in map(mapping, sequence(answer["cautions"])):
        lines.append(f"Take care: {one['text']} ({one['source']})")
    lines += [f"Take care: {text}" for text in sequence(answer["warnings"])]
    numbers = len(sequence(answer["assumed"]))
    return [*lines, f"{numbers} numbers were assumed, fitted or read in print: --json lists each one."]
