"""One clinic's chain walked from its first line to its last, up to the first that is broken."""

from dataclasses import dataclass, field
from enum import StrEnum

from plasmawright.records.chain import Line, line_from, sealed, under_salt
from plasmawright.records.models import Aside, ChainHead, Clinic, Entry


class Kind(StrEnum):
    """How a chain may be broken."""

    EDITED = "edited"
    MISSING = "missing"
    REORDERED = "reordered"
    TRUNCATED = "truncated"
    STATE = "state"


@dataclass(frozen=True, kw_only=True)
class Broken:
    """Where a chain is broken first; ``seq`` is 0 for a row that no line speaks of."""

    clinic: str
    seq: int
    kind: Kind

    def as_document(self) -> dict[str, object]:
        """Return it as ``ledger verify --json`` prints it."""
        return {"clinic": self.clinic, "seq": self.seq, "kind": self.kind.value}


@dataclass(frozen=True, kw_only=True)
class Attested:
    """The last attestation of a row: in which line, of which columns, under which salt."""

    seq: int
    fields: tuple[str, ...]
    salt: str
    state: str


@dataclass
class Walk:
    """What a walk along the chain of ``clinic`` found.

    Parameters
    ----------
    lost
        Ends that were kept outside the database and have not been met yet: place and digest.
    """

    clinic: Clinic
    key: bytes
    lost: set[tuple[int, str]]
    seq: int = 0
    digest: str = ""
    digests: set[str] = field(default_factory=set)
    latest: dict[tuple[str, int], Attested] = field(default_factory=dict)
    tombstones: set[int] = field(default_factory=set)

    def broken(self) -> Broken | None:
        """Walk, and return the first thing that is wrong with the chain itself."""
        asides = {aside.entry_id: aside for aside in Aside.objects.of(self.clinic)}
        head = ChainHead.objects.of(self.clinic).select_for_update().first()  # nobody writes while we read
        for entry in Entry.objects.of(self.clinic).order_by("seq").iterator(chunk_size=1000):
            if kind := self._fault_of(entry, asides.get(entry.pk)):
                return self._at(self.seq + 1, kind)
            self._step(entry, asides[entry.pk])
        if self.tombstones:
            return self._at(min(self.tombstones), Kind.EDITED)
        return self._cut(head)

    def _fault_of(self, entry: Entry, aside: Aside | None) -> Kind | None:
        """Return what is wrong with the next line, or nothing."""
        if entry.seq != self.seq + 1:
            return Kind.MISSING
        seal = sealed(self.key, entry.canonical)
        if seal != entry.digest:
            genuine = Entry.objects.of(self.clinic).filter(digest=seal).exists()
            return Kind.REORDERED if genuine else Kind.EDITED
        line = line_from(entry.canonical)
        if (line.clinic_id, line.seq) != (self.clinic.pk, entry.seq):
            return Kind.REORDERED
        if line.previous != self.digest:
            return Kind.MISSING
        if (line.about_kind, line.about_id) != (entry.about_kind, entry.about_id) or not _hides(line, aside):
            return Kind.EDITED
        return None

    def _step(self, entry: Entry, aside: Aside) -> None:
        """Go on to a line that was found whole."""
        line = line_from(entry.canonical)
        self.seq, self.digest = entry.seq, entry.digest
        self.digests.add(entry.digest)
        self.lost.discard((entry.seq, entry.digest))
        self.tombstones -= set(line.erases)
        if not aside.salt:
            self.tombstones.add(entry.seq)
        else:
            self.latest[line.about_kind, line.about_id] = Attested(
                seq=entry.seq, fields=line.attested, salt=aside.salt, state=line.state
            )

    def _cut(self, head: ChainHead | None) -> Broken | None:
        """Return where the tail was cut: an end that was once there is not met, or the head names a later one."""
        if self.lost:
            return self._at(min(*(seq for seq, _ in self.lost), self.seq + 1), Kind.TRUNCATED)
        if head is None:
            return self._at(self.seq + 1, Kind.TRUNCATED) if self.seq else None
        if (head.seq, head.digest) != (self.seq, self.digest):
            return self._at(self.seq + 1, Kind.TRUNCATED) if head.seq > self.seq else self._at(self.seq, Kind.STATE)
        return None

    def _at(self, seq: int, kind: Kind) -> Broken:
        return Broken(clinic=self.clinic.name, seq=seq, kind=kind)


def _hides(line: Line, aside: Aside | None) -> bool:
    """Return whether the names and words beside a line are those it was sealed over; a tombstone is looked at later."""
    if aside is None:
        return False
    return not aside.salt or (
        under_salt(aside.salt, aside.by) == line.by and under_salt(aside.salt, aside.words) == line.words
    )
