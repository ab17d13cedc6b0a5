"""What a day says quietly, a line each: the shelf, the checks, how the installation is."""

from dataclasses import dataclass
from datetime import date

from plasmawright.practice.checks import LastCheck
from plasmawright.records.models import Clinic
from plasmawright.records.selectors.checks import checks_due
from plasmawright.records.selectors.health import Done, Health, health
from plasmawright.records.selectors.lots import LotStock, SupplyStock, stock
from plasmawright.web.run_times import day_and_minute

SHOWN_MAX = 6
"""How many lines of the shelf stand on Today; the Shelf shows them all."""


@dataclass(frozen=True, kw_only=True)
class Quiet:
    """Lines about the shelf, and about the ledger and the backup; ``alarming`` where one of those is amiss."""

    shelf: tuple[str, ...]
    more: int
    health: tuple[str, ...]
    alarming: bool


def quiet_of(clinic: Clinic, on: date) -> Quiet:
    """Return what is said quietly on a day."""
    supplies = stock(clinic, on)
    lines = [
        *(_lot_line(lot) for supply in supplies for lot in supply.lots if lot.refusal is not None and lot.left > 0),
        *(_check_line(check, on) for check in checks_due(clinic, on)),
        *(_supply_line(supply) for supply in supplies if supply.is_low),
    ]
    known = health()
    return Quiet(
        shelf=tuple(lines[:SHOWN_MAX]),
        more=max(0, len(lines) - SHOWN_MAX),
        health=(_ledger_line(known), _backup_line(known)),
        alarming=known.ledger_is_whole is False or bool(known.backup and known.backup.failed),
    )


def _lot_line(lot: LotStock) -> str:
    why = "recalled" if lot.lot.recalled_at is not None else "out of date"
    return f"{lot.lot.supply.name}, lot {lot.lot.number}: {why}, {lot.left} still on the shelf."


def _supply_line(supply: SupplyStock) -> str:
    return f"{supply.supply.name}: {supply.left} left, reorder at {supply.supply.reorder_level}."


def _check_line(check: LastCheck, on: date) -> str:
    what = f"{check.kind.value.capitalize()} check of {check.about}"
    if check.done_on is None:
        return f"{what}: never written down."
    if not check.passed:
        return f"{what}: failed on {check.done_on:%Y-%m-%d}."
    due_on = check.due_on or on
    return f"{what}: {'due since' if due_on < on else 'due on'} {due_on:%Y-%m-%d}."


def _ledger_line(known: Health) -> str:
    if known.ledger is None:
        return "Ledger: not walked yet."
    if known.ledger_is_whole:
        return f"Ledger whole, walked {_when(known.ledger)}."
    state = "the last walk did not end" if known.ledger.failed else "BROKEN"
    return f"Ledger: {state}, {_when(known.ledger)}."


def _backup_line(known: Health) -> str:
    if not known.backups_set_up:
        return "Backup: none is made."
    if known.backup is None:
        return "Backup: the first is made tonight."
    if known.backup.failed:
        return f"Backup: the last one FAILED, {_when(known.backup)}."
    return f"Backup made {_when(known.backup)}."


def _when(done: Done) -> str:
    return day_and_minute(done.at)
