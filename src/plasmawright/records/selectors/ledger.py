"""Whether every clinic's chain is whole, and whether the rows still are what the chain says of them."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice

from django.db import models, transaction

from plasmawright.records.attested import attested_models, state_of
from plasmawright.records.chain import under_salt
from plasmawright.records.models import Clinic, Entry, Person
from plasmawright.records.outside import kept_heads, ledger_key
from plasmawright.records.scoped import ScopedManager
from plasmawright.records.selectors.chain_walk import Attested, Broken, Kind, Walk

ROWS_AT_ONCE = 200


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What a look at the whole ledger found.

    Parameters
    ----------
    head
        Digest of the last line; of each clinic's, with commas between, where there are several.
    """

    entries: int
    head: str
    broken: Broken | None

    def as_document(self) -> dict[str, object]:
        """Return it as ``ledger verify --json`` prints it."""
        broken = None if self.broken is None else self.broken.as_document()
        return {"ok": broken is None, "entries": self.entries, "head": self.head, "broken": broken}


def history_of(row: models.Model, clinic: Clinic) -> list[Entry]:
    """Return the lines about a row in the chain of ``clinic``, oldest first."""
    kind = str(row._meta.model_name)
    return list(Entry.objects.of(clinic).filter(about_kind=kind, about_id=row.pk).order_by("seq"))


def ledger_verdict(noted: Collection[str] = ()) -> Verdict:
    """Walk every chain and compare every row with what the chain says of it.

    Parameters
    ----------
    noted
        Digests that were once the head, as somebody wrote them down; each must still be met.

    Raises
    ------
    Refusal
        If the key that sealed the ledger is missing.
    """
    kept = kept_heads()  # before the chains, so that a line written meanwhile is not taken for one that is lost
    with transaction.atomic():
        clinics = list(Clinic.objects.order_by("pk"))
        key = ledger_key() if Entry._base_manager.exists() else b""
        walks = [Walk(clinic=clinic, key=key, lost=set(kept.get(clinic.pk, ()))) for clinic in clinics]
        faults = list(islice(_faults(walks, noted=noted, known_clinics=kept), 1))
    return Verdict(
        entries=sum(Entry.objects.of(clinic).count() for clinic in clinics),
        head=",".join(walk.digest for walk in walks if walk.digest),
        broken=faults[0] if faults else None,
    )


def _faults(walks: list[Walk], *, noted: Collection[str], known_clinics: Mapping[int, object]) -> Iterator[Broken]:
    """Yield what is wrong, chains before rows, each clinic after the one opened before it."""
    for walk in walks:
        if fault := walk.broken():
            yield fault
    if set(known_clinics) - {walk.clinic.pk for walk in walks}:
        yield Broken(clinic="", seq=1, kind=Kind.TRUNCATED)
    met = set().union(*(walk.digests for walk in walks))
    if set(noted) - met:
        alone = walks[0] if len(walks) == 1 else None
        yield Broken(clinic=alone.clinic.name if alone else "", seq=alone.seq + 1 if alone else 0, kind=Kind.TRUNCATED)
    for walk in walks:
        if (seq := _seq_at_odds(walk)) is not None:
            yield Broken(clinic=walk.clinic.name, seq=seq, kind=Kind.STATE)
    people = {about_id for walk in walks for kind, about_id in walk.latest if kind == "person"}
    if Person.objects.exclude(pk__in=people).exists():
        yield Broken(clinic="", seq=0, kind=Kind.STATE)


def _seq_at_odds(walk: Walk) -> int | None:
    """Return the first line whose row is no longer what it says, 0 for a row without a line, or nothing."""
    found: list[int] = []
    for kind, model in attested_models().items():
        lines = {about_id: line for (of_kind, about_id), line in walk.latest.items() if of_kind == kind}
        if _rows_of(model, walk.clinic) - set(lines):
            return 0
        found += _at_odds(model, lines)
    return min(found, default=None)


def _rows_of(model: type[models.Model], clinic: Clinic) -> set[int]:
    """Return the keys of every row of the clinic; people belong to several and are looked at together."""
    manager = model._default_manager
    if isinstance(manager, ScopedManager):
        return set(manager.of(clinic).values_list("pk", flat=True))
    return {clinic.pk} if model is Clinic else set()


def _at_odds(model: type[models.Model], lines: Mapping[int, Attested]) -> Iterator[int]:
    """Yield the place of every line whose row is gone or has changed."""
    waiting = iter(lines)
    while chunk := list(islice(waiting, ROWS_AT_ONCE)):
        rows = model._base_manager.in_bulk(chunk)
        for about_id in chunk:
            line, row = lines[about_id], rows.get(about_id)
            if row is None or under_salt(line.salt, state_of(row, line.fields)) != line.state:
                yield line.seq
