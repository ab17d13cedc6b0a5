"""Balance of tubes in a rotor: the vector sum of masses on a circle of equal places, and how to bring it to zero.

Places are numbered from 0 here, place ``p`` of ``n`` at the angle 2πp/n. A load is balanced when the masses, as vectors
towards their places, sum to zero. That is balance in one plane: in a swing-out, buckets that face each other must also
match in where their mass lies, which no sum of masses can show.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from plasmawright.errors import OutOfRange

TIE = 1e-12
"""Share of the total mass below which two sums are the same: rounding, a thousandth of what any scale can see."""


@dataclass(frozen=True, kw_only=True)
class Counterweight:
    """``mass_kg`` to add at ``place``: beside the tube there, or into an empty tube of the same kind."""

    place: int
    mass_kg: float
    in_empty_place: bool


def direction(place: int, places: int) -> complex:
    """Return the unit vector towards ``place``; the quarter turns are exact."""
    eighths = 8 * place % (8 * places)
    if eighths % (2 * places) == 0:
        return (1, 1j, -1, -1j)[eighths // (2 * places)]
    angle = 2 * math.pi * place / places
    return complex(math.cos(angle), math.sin(angle))


def vector_sum_kg(*, places: int, occupied: Sequence[int], masses_kg: Sequence[float]) -> complex:
    """Sum of the masses as vectors; its size is the imbalance, zero below what rounding can tell from zero."""
    total = sum((mass * direction(place, places) for place, mass in zip(occupied, masses_kg, strict=True)), complex(0))
    return complex(0) if abs(total) <= TIE * math.fsum(masses_kg) else total


def prime_divisors(number: int) -> tuple[int, ...]:
    """Distinct primes that divide ``number``, ascending."""
    found, rest, candidate = [], number, 2
    while rest > 1:
        if rest % candidate == 0:
            found.append(candidate)
            while rest % candidate == 0:
                rest //= candidate
        candidate += 1
    return tuple(found)


def balances_alone(*, places: int, tubes: int) -> bool:
    """Whether ``tubes`` equal tubes can be balanced in ``places`` without any counterweight.

    Notes
    -----
    They can exactly when ``tubes`` and ``places - tubes`` are both sums, repetition allowed, of prime divisors of
    ``places``. An empty rotor balances; a single place, which the rule does not speak of, never holds a balanced tube.

    References
    ----------
    Lam and Leung, On vanishing sums of roots of unity, Journal of Algebra 224 (2000) 91-109, for sums with repetition;
    Sivek, On vanishing sums of distinct roots of unity, Integers 10 (2010) 365-368, for distinct places.
    """
    if not 0 <= tubes <= places:
        raise OutOfRange("tubes", tubes, 0, places, "Spread them over more than one run.")
    primes = prime_divisors(places)
    reached = [True] + [False] * places
    for count in range(1, places + 1):
        reached[count] = any(prime <= count and reached[count - prime] for prime in primes)
    return tubes == 0 or (reached[tubes] and reached[places - tubes])


def unopposed(*, places: int, occupied: Sequence[int]) -> tuple[int, ...]:
    """Occupied places whose opposite place is empty or does not exist: what a swing-out's manual must allow."""
    filled = set(occupied)
    if places % 2:
        return tuple(occupied)
    return tuple(place for place in occupied if (place + places // 2) % places not in filled)


def counterweights(
    *, places: int, occupied: Sequence[int], masses_kg: Sequence[float], empty_mass_kg: float
) -> tuple[Counterweight, ...]:
    """Fewest, then lightest masses to add that bring the vector sum to zero.

    Parameters
    ----------
    occupied, masses_kg
        Where the tubes stand and what each weighs, in one order.
    empty_mass_kg
        What an empty tube of the same kind weighs: it comes with every counterweight in an empty place. Zero when the
        masses are of contents alone, or when the whole mass at the place is wanted.

    Returns
    -------
    tuple of Counterweight
        By place; empty when the load is balanced, or when no mass could do it (a rotor of one place).

    Notes
    -----
    Any sum lies between two places, so at most two added masses differ from zero. With the tubes' own mass a third,
    bare tube may be needed to make up for theirs; where three places fail, every empty place is filled.
    """
    missing = -vector_sum_kg(places=places, occupied=occupied, masses_kg=masses_kg)
    if missing == 0 or places == 1:
        return ()
    need = _Need(
        places=places,
        missing_kg=missing,
        empty=frozenset(range(places)) - frozenset(occupied),
        empty_mass_kg=empty_mass_kg,
        tolerance_kg=TIE * math.fsum(masses_kg),
    )
    for bare, active in ((0, 1), (0, 2), (1, 2)):
        if found := need.lightest(active, combinations(sorted(need.empty), bare)):
            return found
    return need.lightest(2, iter([tuple(sorted(need.empty))]))


@dataclass(frozen=True, kw_only=True)
class _Need:
    """What is missing from a load, and the empty places that could hold some of it."""

    places: int
    missing_kg: complex
    empty: frozenset[int]
    empty_mass_kg: float
    tolerance_kg: float

    def lightest(self, active: int, bare_sets: Iterator[tuple[int, ...]]) -> tuple[Counterweight, ...]:
        """Return the lightest answer with ``active`` places to fill besides bare tubes; nothing if there is none."""
        best: tuple[Counterweight, ...] = ()
        best_kg = math.inf
        for bare in bare_sets:
            for chosen in combinations(range(self.places), active):
                held = self.empty.intersection(bare + chosen)
                masses = self._masses_kg(chosen, held)
                if masses is None:
                    continue
                whole_kg = math.fsum(masses) + self.empty_mass_kg * len(held)
                if whole_kg < best_kg - self.tolerance_kg:
                    best_kg, best = whole_kg, self._answer(dict(zip(chosen, masses, strict=True)), held)
        return best

    def _masses_kg(self, chosen: tuple[int, ...], held: frozenset[int]) -> tuple[float, ...] | None:
        """Return what to add at each chosen place once the empty tubes stand; None where a mass would be negative."""
        target = self.missing_kg - self.empty_mass_kg * sum(direction(place, self.places) for place in sorted(held))
        first = direction(chosen[0], self.places)
        along = target * first.conjugate()
        if len(chosen) == 1:
            masses: tuple[float, ...] = (along.real,) if abs(along.imag) <= self.tolerance_kg else (-math.inf,)
        else:
            second = direction(chosen[1], self.places) * first.conjugate()
            if abs(second.imag) < TIE:  # opposite places: only their difference counts
                level = abs(along.imag) <= self.tolerance_kg
                masses = (max(along.real, 0.0), max(-along.real, 0.0)) if level else (-math.inf,)
            else:
                other_kg = along.imag / second.imag
                masses = (along.real - other_kg * second.real, other_kg)
        if min(masses) < -self.tolerance_kg:
            return None
        return tuple(0.0 if mass <= self.tolerance_kg else mass for mass in masses)

    def _answer(self, added_kg: dict[int, float], held: frozenset[int]) -> tuple[Counterweight, ...]:
        counted = {place for place, mass in added_kg.items() if mass > 0} | held
        return tuple(
            Counterweight(place=place, mass_kg=added_kg.get(place, 0.0), in_empty_place=place in self.empty)
            for place in sorted(counted)
        )
