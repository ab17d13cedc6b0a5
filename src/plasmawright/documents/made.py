"""Where a paper comes from: when it was made, by which model, on which draws of which parameters."""

from dataclasses import dataclass
from datetime import UTC, datetime

DIGEST_SHOWN = 12


@dataclass(frozen=True, kw_only=True)
class Made:
    """What makes a paper the same again.

    Parameters
    ----------
    at
        With its time zone; the paper's own date, so that the same inputs give the same bytes.
    parameters_origin, parameters_digest
        Of the set the numbers stand on.
    """

    at: datetime
    model_version: str
    seed: int
    draws: int
    parameters_origin: str
    parameters_digest: str

    @property
    def at_utc(self) -> datetime:
        """Return when, in universal time to the second."""
        return self.at.astimezone(UTC).replace(microsecond=0)

    @property
    def words(self) -> str:
        """Return all of it on one line."""
        digest = self.parameters_digest[:DIGEST_SHOWN]
        return (
            f"plasmawright {self.model_version} · seed {self.seed} · {self.draws} draws · "
            f"parameters {self.parameters_origin} {digest} · made {self.at_utc:%Y-%m-%d %H:%M} UTC"
        )


@dataclass(frozen=True, kw_only=True)
class Printed:
    """What makes a paper of records the same again: no draws stand behind it, only when it was printed."""

    at: datetime
    version: str

    @property
    def at_utc(self) -> datetime:
        """Return when, in universal time to the second."""
        return self.at.astimezone(UTC).replace(microsecond=0)

    @property
    def words(self) -> str:
        """Return all of it on one line."""
        return f"plasmawright {self.version} · printed {self.at_utc:%Y-%m-%d %H:%M} UTC"
