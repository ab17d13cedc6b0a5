"""Two people on one day who could be taken for each other: same or similar names, same or similar birth dates.

Names are compared without case, accents, marks and order of words; what is told of the other person is the ending of a
record number and nothing else, since these words stand beside somebody else's name.
"""

import unicodedata
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from difflib import SequenceMatcher
from itertools import combinations
from typing import Generic, TypeVar

from plasmawright.errors import Refusal

NAME_CHARACTERS_MAX = 120
MARKS_ON_A_LETTER_MAX = 4
"""Vowel signs and accents that one letter may carry; more of them only hide what stands there."""
JOINERS = {"\u200c", "\u200d"}
"""Invisible, and part of how names are spelled in several scripts."""
LIKE_FRAC = 0.8
"""From here two spellings count as similar: one letter in five, such as Maria and Mario."""
ENDING_CHARACTERS = 3
# Letters that are one sign with their stroke: taking accents apart leaves them as they are.
STROKES = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "ħ": "h", "ŧ": "t", "ı": "i", "æ": "ae", "œ": "oe", "ð": "d"})

Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True, kw_only=True)
class Identity(Generic[Key]):
    """Who somebody is, by the three identifiers; ``key`` is what the caller knows them by."""

    key: Key
    name: str
    birth_on: date
    record_number: str


def checked_name(name: str) -> str:
    """Return a name as it is kept: one form for each letter, single spaces; letters of any script are welcome.

    Raises
    ------
    Refusal
        If it is empty or too long, holds no letter, or holds signs that nobody can see or read.
    """
    kept = " ".join(unicodedata.normalize("NFC", name).split())
    if not any(mark.isalpha() for mark in kept):
        raise Refusal("patient.name", kept or "empty", "it must hold a letter", "Write the name as it is spelled.")
    if len(kept) > NAME_CHARACTERS_MAX:
        limit = f"it must be at most {NAME_CHARACTERS_MAX} characters long"
        raise Refusal("patient.name", kept, limit, "Write the name as it stands on the identity paper.")
    if any(unicodedata.category(mark)[0] == "C" and mark not in JOINERS for mark in kept):
        raise Refusal("patient.name", kept, "it must hold no hidden signs", "Type the name instead of pasting it.")
    _refuse_piled_marks(kept)
    return kept


def _refuse_piled_marks(name: str) -> None:
    piled = 0
    for mark in unicodedata.normalize("NFD", name):
        piled = piled + 1 if unicodedata.combining(mark) else 0
        if piled > MARKS_ON_A_LETTER_MAX:
            limit = f"a letter may carry {MARKS_ON_A_LETTER_MAX} marks at most"
            raise Refusal("patient.name", name, limit, "Type the name instead of pasting it.")


def folded(text: str) -> str:
    """Return ``text`` without case, accents and punctuation: what is searched and compared."""
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text).casefold())
    plain = "".join(mark for mark in apart if not unicodedata.combining(mark)).translate(STROKES)
    closed = plain.replace("'", "").replace("\u2019", "")
    return " ".join("".join(mark if mark.isalnum() else " " for mark in closed).split())


def alert_name(one: str, other: str) -> str | None:
    """Say how two names could be taken for each other; None when they could not."""
    plain, other_plain = folded(one).split(), folded(other).split()
    here, there = sorted(plain), sorted(other_plain)
    if here == there or "".join(plain) == "".join(other_plain):
        return "Same name"
    if _alike(" ".join(here), " ".join(there)) or _contained(here, there):
        return "Similar name"
    return None


def _alike(one: str, other: str) -> bool:
    return SequenceMatcher(None, one, other, autojunk=False).ratio() >= LIKE_FRAC


def _contained(one: Sequence[str], other: Sequence[str]) -> bool:
    """Return whether each word of the shorter name has a similar word of its own in the longer one."""
    shorter, longer = sorted((list(one), list(other)), key=len)
    for word in shorter:
        partner = next((found for found in longer if _alike(word, found)), None)
        if partner is None:
            return False
        longer.remove(partner)
    return True


def alert_birth(one: date, other: date) -> str | None:
    """Say how two birth dates could be taken for each other: the same, day and month swapped, or one digit apart."""
    if one == other:
        return "Same birth date"
    swapped = one.year == other.year and (one.month, one.day) == (other.day, other.month)
    digits_apart = sum(here != there for here, there in zip(one.isoformat(), other.isoformat(), strict=True))
    return "Similar birth date" if swapped or digits_apart == 1 else None


def alerts_among(people: Sequence[Identity[Key]]) -> Mapping[Key, tuple[str, ...]]:
    """Return what to say beside each of these people; who can be taken for nobody else is left out."""
    found: dict[Key, tuple[str, ...]] = {}
    for one, other in combinations(people, 2):
        reasons = [alert_name(one.name, other.name), alert_birth(one.birth_on, other.birth_on)]
        said = " and ".join(reason for reason in reasons if reason is not None)
        if said:
            found[one.key] = (*found.get(one.key, ()), _words(said, other))
            found[other.key] = (*found.get(other.key, ()), _words(said, one))
    return found


def _words(said: str, other: Identity[Key]) -> str:
    words = said.replace(" and S", " and s")
    return f"{words}: another patient, record number ending {other.record_number[-ENDING_CHARACTERS:]}."
