"""Reading the steps of a preparation, each with the keys its ``do`` asks for."""

from enum import StrEnum

from plasmawright.preparation.protocol import Place, RemoveSupernatant, Resuspend, Spin, Step, Stop, Withdraw
from plasmawright.preparation.ranges import RANGES
from plasmawright.preparation.section import Section

STEPS_MAX = 12


class Do(StrEnum):
    """What a step may do."""

    SPIN = "spin"
    WITHDRAW = "withdraw"
    REMOVE_SUPERNATANT = "remove_supernatant"
    RESUSPEND = "resuspend"


STEP_KEYS = {
    Do.SPIN: ("do", "rcf", "rpm", "rcf_at", "minutes", "up_s", "down_s"),
    Do.WITHDRAW: ("do", "stop", "value", "pool_into", "pool_tubes"),
    Do.REMOVE_SUPERNATANT: ("do", "leave_ml"),
    Do.RESUSPEND: ("do", "handling_frac"),
}


def steps_from(whole: Section) -> list[Step] | None:
    """Read ``[[steps]]``; ``None`` when their number, shape or kind is refused, so that their order says nothing."""
    remedy = 'Add [[steps]] with do = "spin" first.'
    if "steps" not in whole.fields:
        whole.missing("steps", remedy)
        return None
    listed = whole.fields["steps"]
    if not isinstance(listed, list | tuple):
        whole.refuse("steps", "not a list", "it must be a list of sections", "Write [[steps]] in double brackets.")
        return None
    if not 1 <= len(listed) <= STEPS_MAX:
        limit = f"there must be 1 to {STEPS_MAX}"
        whole.refuse("steps", f"{len(listed)} steps", limit, remedy if not listed else "Split the preparation.")
        return None
    read = [_step_from(whole, number, value) for number, value in enumerate(listed)]
    steps = [step for step in read if step is not None]
    return steps if len(steps) == len(read) else None


def _step_from(whole: Section, number: int, value: object) -> Step | None:
    opened = whole.table(f"steps.{number}", value, "steps")
    if opened is None:
        return None
    do = opened.choice("do", Do)
    if do is None:
        return None
    section = Section(path=opened.path, kind=do, fields=opened.fields, found=opened.found)
    section.known(STEP_KEYS[do])
    match do:
        case Do.SPIN:
            return _spin_from(section)
        case Do.WITHDRAW:
            return _withdraw_from(section)
        case Do.REMOVE_SUPERNATANT:
            return RemoveSupernatant(leave_ml=section.number("leave_ml"))
        case Do.RESUSPEND:
            return Resuspend(handling_frac=section.optional_number("handling_frac"))


def _spin_from(section: Section) -> Spin:
    both = "rcf" in section.fields and "rpm" in section.fields
    if both:
        section.refuse("rcf", section.fields["rcf"], "it cannot stand beside rpm", "Keep one of the two.")
    elif "rcf" not in section.fields and "rpm" not in section.fields:
        section.missing("rcf", "Write rcf (a multiple of gravity) or rpm, one of the two.")
    place = section.choice("rcf_at", Place, Place.BOTTOM)
    if "rpm" in section.fields and not both and place not in (Place.BOTTOM, None):
        section.refuse("rcf_at", place, "a speed in rpm is the same everywhere", "Drop rcf_at, or write rcf.")
    return Spin(
        minutes=section.number("minutes"),
        rcf=None if both else section.optional_number("rcf"),
        rpm=None if both else section.optional_number("rpm"),
        rcf_at=place or Place.BOTTOM,
        up_s=section.optional_number("up_s"),
        down_s=section.optional_number("down_s"),
    )


def _withdraw_from(section: Section) -> Withdraw | None:
    """Read a withdrawal; ``None`` when it is not known how the hand stops, which decides what its value means."""
    stop = section.choice("stop", Stop)
    if "value" not in section.fields:
        section.missing("value", "Write where to stop: mm for a distance, mL of each tube for a volume.")
    pool_into = section.text("pool_into", "Write the name of a section under [tubes].")
    pool_tubes = section.optional_whole("pool_tubes")
    if stop is None or "value" not in section.fields:
        return None
    return Withdraw(
        stop=stop,
        value=section.ranged("value", RANGES[f"withdraw.{stop}"]),
        pool_into=pool_into,
        pool_tubes=pool_tubes,
    )
