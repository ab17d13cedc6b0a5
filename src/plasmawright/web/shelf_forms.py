"""Every form of the Shelf: its fields, and the one service that keeps what it says."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import models

from plasmawright.practice.checks import MEASURES, CheckKind, tolerance_row
from plasmawright.records.models import BottomShape, Clinic, Person, SupplyKind
from plasmawright.records.selectors import lots as stocked
from plasmawright.records.selectors import shelf as standing
from plasmawright.records.services import checks, lots, shelf
from plasmawright.web.entry import Choice, Field
from plasmawright.web.shelf_reading import Reading

YES_NO = (Choice(value="false", label="no"), Choice(value="true", label="yes"))
NO_YES = YES_NO[::-1]
BY_PAPERS = "from its own papers"


@dataclass(frozen=True, kw_only=True)
class ShelfForm:
    """One form.

    Parameters
    ----------
    section
        Where on the Shelf what was kept is to be seen.
    fields
        For a clinic: choices come from its shelf.
    keep
        Reads the entries and keeps them, or raises what was refused.
    """

    title: str
    words: str
    button: str
    section: str
    fields: Callable[[Clinic], tuple[Field, ...]]
    keep: Callable[[Clinic, Reading, Person, datetime], object]


def words(name: str, label: str, hint: str = "") -> Field:
    """Return an entry for words."""
    return Field(name=name, label=label, hint=hint, inputmode="text")


def day(name: str, label: str, hint: str = "") -> Field:
    """Return an entry for a day."""
    return Field(name=name, label=label, hint=hint, inputmode="date")


def choose(name: str, label: str, rows: Iterable[models.Model], none: str = "choose") -> Field:
    """Return a choice among rows."""
    choices = (Choice(value="", label=none), *(Choice(value=str(row.pk), label=str(row)) for row in rows))
    return Field(name=name, label=label, choices=choices, inputmode="text")


def _centrifuge_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        words("centrifuge.name", "Name", "As it is called here"),
        words("centrifuge.serial_number", "Serial number"),
    )


def _keep_centrifuge(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    shelf.add_centrifuge(
        clinic=clinic, name=reading.text("centrifuge.name"), serial_number=reading.text("centrifuge.serial_number"),
        by=by, at=at,
    )  # fmt: skip


def _rotor_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        words("rotor.name", "Name"),
        choose("rotor.centrifuge", "Turns in", standing.centrifuges(clinic), none="not said yet"),
        Field(
            name="rotor.bottom_radius_mm", label="Bottom radius", unit="mm", hint="To the inside of the tube's bottom"
        ),
        Field(name="rotor.angle_deg", label="Angle", unit="degrees", start="90", hint="90 is a swing-out"),
        Field(name="rotor.max_rcf", label="Limit", unit="× g", hint=BY_PAPERS),
        Field(name="rotor.places", label="Places"),
    )


def _keep_rotor(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    given = {
        "bottom_radius_mm": reading.number("rotor.bottom_radius_mm"),
        "angle_deg": reading.number("rotor.angle_deg"),
        "max_rcf": reading.number("rotor.max_rcf"),
    }
    places = reading.whole("rotor.places")
    reading.done()
    turns_in = reading.one_of("rotor.centrifuge", standing.centrifuges(clinic))
    shelf.add_rotor(
        clinic=clinic, name=reading.text("rotor.name"), places=places, centrifuge=turns_in, by=by, at=at, **given
    )


def _place_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        choose("rotor.rotor", "Rotor", standing.rotors(clinic)),
        choose("rotor.centrifuge", "Turns in", standing.centrifuges(clinic)),
    )


def _keep_place(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    rotor = reading.required("rotor.rotor", standing.rotors(clinic))
    centrifuge = reading.required("rotor.centrifuge", standing.centrifuges(clinic))
    shelf.place_rotor(rotor=rotor, centrifuge=centrifuge, by=by, at=at)


def _tube_fields(clinic: Clinic) -> tuple[Field, ...]:
    bottoms = tuple(Choice(value=shape.value, label=shape.value) for shape in BottomShape)
    return (
        words("tubes.name", "Name"),
        Field(name="tubes.inner_diameter_mm", label="Bore", unit="mm", hint="Inside; measure it by water afterwards"),
        Field(name="tubes.bottom", label="Bottom", start="round", choices=bottoms),
        Field(name="tubes.cone_height_mm", label="Height of the cone", unit="mm", hint="Conical tubes only"),
        Field(name="tubes.tip_diameter_mm", label="Bore at the tip", unit="mm", hint="Conical tubes only"),
        Field(name="tubes.capacity_ml", label="Holds", unit="mL"),
        Field(name="tubes.max_rcf", label="Limit", unit="× g", hint=BY_PAPERS),
        Field(name="tubes.empty_mass_g", label="Empty mass", unit="g"),
        Field(name="tubes.graduated", label="Millilitres printed on it", start="false", choices=YES_NO),
    )


def _keep_tube(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    inner_diameter_mm, capacity_ml = reading.number("tubes.inner_diameter_mm"), reading.number("tubes.capacity_ml")
    given = {
        key: reading.optional_number(f"tubes.{key}")
        for key in ("cone_height_mm", "tip_diameter_mm", "max_rcf", "empty_mass_g")
    }
    reading.done()
    shelf.add_tube_kind(
        clinic=clinic, name=reading.text("tubes.name"), inner_diameter_mm=inner_diameter_mm,
        bottom=reading.text("tubes.bottom"), capacity_ml=capacity_ml, graduated=reading.flag("tubes.graduated"), by=by,
        at=at, **given,
    )  # fmt: skip


def _adapter_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        choose("adapter.rotor", "Rotor", standing.rotors(clinic)),
        choose("adapter.tube_kind", "Tube", standing.tube_kinds(clinic)),
        Field(name="adapter.bottom_radius_mm", label="Bottom radius", unit="mm", hint="With this adapter in"),
        Field(name="adapter.max_rcf", label="Limit", unit="× g", hint=BY_PAPERS),
    )


def _keep_adapter(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    rotor = reading.required("adapter.rotor", standing.rotors(clinic))
    kind = reading.required("adapter.tube_kind", standing.tube_kinds(clinic))
    radius_mm, max_rcf = reading.number("adapter.bottom_radius_mm"), reading.optional_number("adapter.max_rcf")
    reading.done()
    shelf.add_adapter(rotor=rotor, tube_kind=kind, bottom_radius_mm=radius_mm, max_rcf=max_rcf, by=by, at=at)


def _supply_fields(clinic: Clinic) -> tuple[Field, ...]:
    kinds = tuple(Choice(value=value, label=label) for value, label in SupplyKind.choices)
    return (
        words("supply.name", "Name"),
        Field(name="supply.kind", label="Kind", start=kinds[0].value, choices=kinds),
        Field(
            name="supply.touches_blood",
            label="Touches blood",
            start="true",
            choices=NO_YES,
            hint="Then it has an expiry",
        ),
        Field(name="supply.reorder_level", label="Order below", unit="pieces"),
    )


def _keep_supply(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    level = reading.whole("supply.reorder_level")
    reading.done()
    lots.add_supply(
        clinic=clinic, name=reading.text("supply.name"), kind=reading.text("supply.kind"),
        touches_blood=reading.flag("supply.touches_blood"), reorder_level=level, by=by, at=at,
    )  # fmt: skip


def _level_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        choose("supply.supply", "Supply", stocked.supplies(clinic)),
        Field(name="supply.reorder_level", label="Order below", unit="pieces"),
    )


def _keep_level(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    supply = reading.required("supply.supply", stocked.supplies(clinic))
    level = reading.whole("supply.reorder_level")
    reading.done()
    lots.set_reorder_level(supply=supply, reorder_level=level, by=by, at=at)


def _lot_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        choose("lot.supply", "Supply", stocked.supplies(clinic)),
        words("lot.number", "Lot number", "From the pack, or scanned"),
        day("lot.expires_on", "Last day of use", "A month alone means its last day"),
        Field(name="lot.quantity", label="Received", unit="pieces"),
    )


def _keep_lot(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    supply = reading.required("lot.supply", stocked.supplies(clinic))
    expires_on, quantity = reading.optional_day("lot.expires_on"), reading.whole("lot.quantity")
    reading.done()
    lots.receive_lot(
        supply=supply, number=reading.text("lot.number"), expires_on=expires_on, quantity=quantity, by=by, at=at
    )


def _count_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        choose("lot.lot", "Lot", stocked.lots(clinic)),
        Field(name="lot.counted", label="Counted", unit="pieces"),
        words("lot.why", "Why it was counted", "Such as: monthly count"),
    )


def _keep_count(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    lot = reading.required("lot.lot", stocked.lots(clinic))
    counted = reading.whole("lot.counted")
    reading.done()
    lots.count_stock(lot=lot, counted=counted, why=reading.text("lot.why"), by=by, at=at)


def _recall_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        choose("lot.lot", "Lot", stocked.lots(clinic)),
        words("lot.why", "Who recalled it, and why"),
    )


def _keep_recall(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    lot = reading.required("lot.lot", stocked.lots(clinic))
    lots.recall_lot(lot=lot, why=reading.text("lot.why"), by=by, at=at)


def _reading_fields(kind: CheckKind, set_label: str, read_label: str) -> tuple[Field, ...]:
    measure, row = MEASURES[kind], tolerance_row(kind)
    share = ", as a share: 0.05 is 5 %" if measure.is_share else ""
    until_then = f"{row.locator} ({row.kind}; {row.source.text})"
    return (
        Field(name=f"{kind}.set_to", label=set_label, unit=measure.unit),
        Field(name=f"{kind}.read", label=read_label, unit=measure.unit),
        Field(
            name=f"{kind}.tolerance", label="May be off by", unit="" if measure.is_share else measure.unit,
            start=f"{row.value:g}", hint=f"Your choice{share}. Until you choose: {until_then}.",
        ),
        day(f"{kind}.done_on", "Done on"),
    )  # fmt: skip


def _speed_fields(clinic: Clinic) -> tuple[Field, ...]:
    machine = choose("speed.centrifuge", "Centrifuge", standing.centrifuges(clinic))
    return (machine, *_reading_fields(CheckKind.SPEED, "Speed set", "Speed by tachometer"))


def _timer_fields(clinic: Clinic) -> tuple[Field, ...]:
    machine = choose("timer.centrifuge", "Centrifuge", standing.centrifuges(clinic))
    return (machine, *_reading_fields(CheckKind.TIMER, "Time set", "Time by stopwatch"))


def _scale_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (words("scale.name", "Scale"), *_reading_fields(CheckKind.SCALE, "Weight put on", "Shown by the scale"))


def _keep_speed(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    _keep_machine(CheckKind.SPEED, clinic, reading, by, at)


def _keep_timer(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    _keep_machine(CheckKind.TIMER, clinic, reading, by, at)


def _keep_machine(kind: CheckKind, clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    centrifuge = reading.required(f"{kind}.centrifuge", standing.centrifuges(clinic))
    set_to, read = reading.number(f"{kind}.set_to"), reading.number(f"{kind}.read")
    tolerance_frac, done_on = reading.number(f"{kind}.tolerance"), reading.day(f"{kind}.done_on")
    reading.done()
    checks.check_centrifuge(
        centrifuge=centrifuge, kind=kind, set_to=set_to, read=read, tolerance_frac=tolerance_frac, done_on=done_on,
        by=by, at=at,
    )  # fmt: skip


def _keep_scale(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    nominal_g, read_g = reading.number("scale.set_to"), reading.number("scale.read")
    tolerance_g, done_on = reading.number("scale.tolerance"), reading.day("scale.done_on")
    reading.done()
    checks.check_scale(
        clinic=clinic, name=reading.text("scale.name"), nominal_g=nominal_g, read_g=read_g, tolerance_g=tolerance_g,
        done_on=done_on, by=by, at=at,
    )  # fmt: skip


def _hood_fields(clinic: Clinic) -> tuple[Field, ...]:
    return (
        words("hood.name", "Hood"),
        words("hood.number", "Certificate number"),
        day("hood.done_on", "Tested on"),
        day("hood.expires_on", "Valid until"),
        Field(name="hood.passed", label="It passed", start="true", choices=NO_YES),
    )


def _keep_hood(clinic: Clinic, reading: Reading, by: Person, at: datetime) -> None:
    done_on, expires_on = reading.day("hood.done_on"), reading.day("hood.expires_on")
    reading.done()
    checks.keep_certificate(
        clinic=clinic, name=reading.text("hood.name"), number=reading.text("hood.number"), done_on=done_on,
        expires_on=expires_on, passed=reading.flag("hood.passed"), by=by, at=at,
    )  # fmt: skip


RECALL = ShelfForm(
    title="Recall a lot", button="Recall this lot", section="supplies", fields=_recall_fields, keep=_keep_recall,
    words="From now on no run may use it. Who got it already is shown next.",
)  # fmt: skip
FORMS: Mapping[str, ShelfForm] = {
    "centrifuge": ShelfForm(
        title="Add a centrifuge", button="Add it", section="centrifuges", fields=_centrifuge_fields,
        keep=_keep_centrifuge, words="Its speed and its timer are then checked.",
    ),
    "rotor": ShelfForm(
        title="Add a rotor", button="Add it", section="centrifuges", fields=_rotor_fields, keep=_keep_rotor,
        words="Measure from the rotor's centre to the inside of the tube's bottom, as it hangs while spinning.",
    ),
    "place-rotor": ShelfForm(
        title="Say where a rotor turns", button="Keep it", section="centrifuges", fields=_place_fields,
        keep=_keep_place, words="A failed check of another centrifuge then no longer stops its runs.",
    ),
    "tube-kind": ShelfForm(
        title="Add a kind of tube", button="Add it", section="tubes", fields=_tube_fields, keep=_keep_tube,
        words="What was not measured stays empty.",
    ),
    "adapter": ShelfForm(
        title="Add an adapter", button="Add it", section="tubes", fields=_adapter_fields, keep=_keep_adapter,
        words="Where it puts this tube's bottom in this rotor.",
    ),
    "supply": ShelfForm(
        title="Add a supply", button="Add it", section="supplies", fields=_supply_fields, keep=_keep_supply,
        words="Something that is used up, counted in single pieces.",
    ),
    "level": ShelfForm(
        title="Change when to order", button="Keep it", section="supplies", fields=_level_fields, keep=_keep_level,
        words="Fewer pieces left than this, and the Shelf says so.",
    ),
    "lot": ShelfForm(
        title="Receive a lot", button="Receive it", section="supplies", fields=_lot_fields, keep=_keep_lot,
        words="More of a lot that is here already is added to it.",
    ),
    "count": ShelfForm(
        title="Count a lot", button="Keep the count", section="supplies", fields=_count_fields, keep=_keep_count,
        words="The difference to what was written is kept with its reason; nothing is written over.",
    ),
    "speed": ShelfForm(
        title="Check a speed", button="Keep the check", section="checks", fields=_speed_fields, keep=_keep_speed,
        words="Set a speed you use, rotor in, lid closed; read it by tachometer. A speed 5 % too high is a force "
        "10 % too high.",
    ),
    "timer": ShelfForm(
        title="Check a timer", button="Keep the check", section="checks", fields=_timer_fields, keep=_keep_timer,
        words="Set a time you use; start the stopwatch when the centrifuge's own timer starts.",
    ),
    "scale": ShelfForm(
        title="Check a scale", button="Keep the check", section="checks", fields=_scale_fields, keep=_keep_scale,
        words="Put a known weight on, about as heavy as a full tube.",
    ),
    "hood": ShelfForm(
        title="Keep a hood's certificate", button="Keep it", section="checks", fields=_hood_fields, keep=_keep_hood,
        words="As it stands on the paper the tester left.",
    ),
}  # fmt: skip
