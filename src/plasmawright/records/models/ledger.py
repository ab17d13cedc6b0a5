"""The chained history: one line for each write, sealed to the line before it."""

from django.db import models

from plasmawright.records.models.people import Clinic
from plasmawright.records.scoped import ScopedManager


class ChainHead(models.Model):
    """The last line of a clinic's chain; its row is locked while the next is written, so that no chain forks."""

    clinic = models.OneToOneField(Clinic, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField(default=0)
    digest = models.CharField(max_length=64, blank=True, default="")

    objects = ScopedManager["ChainHead"]()

    def __str__(self) -> str:
        return f"{self.seq} {self.digest}"


class Entry(models.Model):
    """One line of history, never changed and never deleted.

    ``canonical`` is the sealed text, stored as it was sealed and never made anew; ``digest`` is its HMAC-SHA256.
    ``about_kind`` and ``about_id`` repeat what the text says, so that a row's history can be found.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField()
    about_kind = models.CharField(max_length=40)
    about_id = models.BigIntegerField()
    canonical = models.TextField()
    digest = models.CharField(max_length=64)

    objects = ScopedManager["Entry"]()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "seq"], name="entry_stands_alone_in_its_place"),
            models.CheckConstraint(condition=models.Q(seq__gte=1), name="entries_are_counted_from_one"),
        ]
        indexes = [models.Index(fields=["clinic", "about_kind", "about_id"], name="entry_about")]

    def __str__(self) -> str:
        return f"{self.seq} {self.digest}"


class Aside(models.Model):
    """The names and words of one entry, kept beside the chain under a salted digest.

    Erasing empties all three fields: without the salt, the digest in the chain tells nothing. What is left is a
    tombstone, which a later entry accounts for.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="+")
    salt = models.CharField(max_length=32, blank=True)
    by = models.CharField(max_length=120, blank=True)
    words = models.TextField(blank=True)

    objects = ScopedManager["Aside"]()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(salt="") | models.Q(by="", words=""), name="aside_is_whole_or_a_tombstone"
            )
        ]

    def __str__(self) -> str:
        return self.by or "erased"
