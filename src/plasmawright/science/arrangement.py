"""Where to put tubes in a rotor so that as little as possible is left to balance.

Equal tubes that can balance alone are put in opposite pairs as far as the count allows, since that is what every
swing-out takes. What cannot balance alone is searched: exactly while that is quick, else from good starts downhill.
The same question always gets the same answer.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from plasmawright.errors import OutOfRange
from plasmawright.science.balance import TIE, balances_alone, direction, prime_divisors, vector_sum_kg

EXACT_PLACES_MAX = 36
"""Two halves of 18 places have 262,144 subsets each: about a second. Every place more in both doubles that."""

TRIALS_MAX = 1_000_000
"""Places tried by the search with unequal masses before it keeps what it has: about a second."""


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """``occupied`` in the order of the tubes given; ``proven`` says that no other arrangement leaves less."""

    occupied: tuple[int, ...]
    residual_kg: float
    proven: bool


def best_arrangement(*, places: int, masses_kg: Sequence[float]) -> Arrangement:
    """Find where tubes of the given masses go; the first tube stands in place 0 wherever tubes differ.

    Raises
    ------
    OutOfRange
        If there are more tubes than places, or none.
    """
    if not 1 <= len(masses_kg) <= places:
        raise OutOfRange("tubes", len(masses_kg), 1, places, "Spread them over more than one run.")
    if max(masses_kg) - min(masses_kg) <= TIE * max(masses_kg):
        occupied, proven = _equal(places, len(masses_kg))
    else:
        search = _Search(places=places, masses_kg=tuple(sorted(masses_kg, reverse=True)))
        order = sorted(range(len(masses_kg)), key=lambda tube: (-masses_kg[tube], tube))
        found = dict(zip(order, search.run(), strict=True))
        occupied = tuple((found[tube] - found[0]) % places for tube in range(len(masses_kg)))
        proven = search.trials_left > 0
    residual = vector_sum_kg(places=places, occupied=occupied, masses_kg=masses_kg)
    return Arrangement(occupied=occupied, residual_kg=abs(residual), proven=proven)


def _equal(places: int, tubes: int) -> tuple[tuple[int, ...], bool]:
    if balances_alone(places=places, tubes=tubes):
        return _first_rotation(places, _balanced(places, tubes)), True
    if places <= EXACT_PLACES_MAX:
        return _first_rotation(places, _closest_subset(places, tubes)), True
    search = _Search(places=places, masses_kg=(1.0,) * tubes, trials_left=0)
    return _first_rotation(places, search.run()), False


def _first_rotation(places: int, occupied: Sequence[int]) -> tuple[int, ...]:
    """Turn an arrangement so that its places read smallest first; it then starts in place 0."""
    return min(tuple(sorted((place - start) % places for place in occupied)) for start in occupied)


def _balanced(places: int, tubes: int) -> tuple[int, ...]:
    """Arrange equal tubes that can balance alone: evenly spread, else in pairs, else pairs and one odd figure."""
    if tubes and places % tubes == 0:
        return tuple(range(0, places, places // tubes))
    if 2 * tubes > places:
        holes = set(_balanced(places, places - tubes))
        return tuple(place for place in range(places) if place not in holes)
    if tubes % 2 == 0 and places % 2 == 0:
        half, pairs = places // 2, tubes // 2
        starts = [pair * half // pairs for pair in range(pairs)]
        return tuple(starts + [start + half for start in starts])
    for figures in _figures(tubes, prime_divisors(places)):
        if found := _place_figures(places, figures, frozenset(), 0):
            return tuple(sorted(found))
    return ()


def _figures(tubes: int, primes: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Every way to split ``tubes`` into regular figures of prime order, fewest tubes outside opposite pairs first."""

    def splits(rest: int, allowed: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        if rest == 0:
            yield ()
        elif allowed:
            for count in range(rest // allowed[-1], -1, -1):
                for others in splits(rest - count * allowed[-1], allowed[:-1]):
                    yield (allowed[-1],) * count + others

    return sorted(splits(tubes, primes), key=lambda split: (sum(figure for figure in split if figure > 2), split))


def _place_figures(places: int, figures: tuple[int, ...], taken: frozenset[int], start: int) -> frozenset[int]:
    """Place figures one after another without overlap, going back when stuck; empty when it cannot be done."""
    if not figures:
        return taken
    step = places // figures[0]
    for offset in range(start, step):
        figure = frozenset(range(offset, places, step))
        if figure & taken:
            continue
        same_next = len(figures) > 1 and figures[1] == figures[0]
        if found := _place_figures(places, figures[1:], taken | figure, offset + 1 if same_next else 0):
            return found
    return frozenset()


def _closest_subset(places: int, tubes: int) -> tuple[int, ...]:
    """Find the places, one of them 0, whose unit vectors sum nearest to zero, by meeting in the middle."""
    middle = 1 + (places - 1) // 2
    left_sums, left_counts = _subset_sums([direction(place, places) for place in range(1, middle)])
    right_sums, right_counts = _subset_sums([direction(place, places) for place in range(middle, places)])
    best_size, best = math.inf, (0, 0)
    for in_left in range(max(0, tubes - 1 - (places - middle)), min(tubes - 1, middle - 1) + 1):
        left = np.flatnonzero(left_counts == in_left)
        right = np.flatnonzero(right_counts == tubes - 1 - in_left)
        wanted = -1 - left_sums[left]
        answer = KDTree(_as_points(right_sums[right])).query(_as_points(wanted))
        sizes, nearest = np.asarray(answer[0]), np.asarray(answer[1])
        at = int(np.argmin(sizes))
        if sizes[at] < best_size - TIE:
            best_size, best = float(sizes[at]), (int(left[at]), int(right[nearest[at]]))
    mask = 1 | best[0] << 1 | best[1] << middle
    return tuple(place for place in range(places) if mask >> place & 1)


def _subset_sums(directions: Sequence[complex]) -> tuple[NDArray[np.complex128], NDArray[np.int64]]:
    """Sum and size of every subset, at the index whose bits name its members."""
    sums, counts = np.zeros(1, complex), np.zeros(1, np.int64)
    for vector in directions:
        sums, counts = np.concatenate([sums, sums + vector]), np.concatenate([counts, counts + 1])
    return sums, counts


def _as_points(numbers: NDArray[np.complex128]) -> NDArray[np.float64]:
    return np.column_stack([numbers.real, numbers.imag])


@dataclass(kw_only=True)
class _Search:
    """Depth-first search over places for unequal tubes, heaviest first, cut off where nothing better can follow."""

    places: int
    masses_kg: tuple[float, ...]
    trials_left: int = TRIALS_MAX
    best: tuple[int, ...] = ()
    best_kg: float = math.inf
    vectors: tuple[complex, ...] = field(init=False)
    left_kg: tuple[float, ...] = field(init=False)
    tie_kg: float = field(init=False)

    def __post_init__(self) -> None:
        self.vectors = tuple(direction(place, self.places) for place in range(self.places))
        self.left_kg = tuple(math.fsum(self.masses_kg[depth:]) for depth in range(len(self.masses_kg)))
        self.tie_kg = TIE * self.left_kg[0]

    def run(self) -> tuple[int, ...]:
        """Return places for the masses, heaviest first."""
        self.best = self._downhill(self._greedy())
        self.best_kg = abs(self._sum(self.best))
        self._deepen((0,), complex(self.masses_kg[0]))
        return self.best

    def _sum(self, occupied: Sequence[int]) -> complex:
        return sum(
            (mass * self.vectors[place] for mass, place in zip(self.masses_kg, occupied, strict=True)), complex(0)
        )

    def _greedy(self) -> list[int]:
        chosen: list[int] = []
        total = complex(0)
        for mass in self.masses_kg:
            free = (place for place in range(self.places) if place not in chosen)
            _, place = min((abs(total + mass * self.vectors[place]), place) for place in free)
            chosen.append(place)
            total += mass * self.vectors[place]
        return chosen

    def _downhill(self, chosen: list[int]) -> tuple[int, ...]:
        """Take the best single move or swap until none helps, or twice as many as there are places."""
        for _ in range(2 * self.places):
            total = self._sum(chosen)
            trials = [(abs(total + change), tube, place) for tube, place, change in self._changes(chosen)]
            size, tube, place = min(trials, default=(math.inf, 0, 0))
            if size >= abs(total) - self.tie_kg:
                break
            if place in chosen:
                chosen[chosen.index(place)] = chosen[tube]
            chosen[tube] = place
        return tuple(chosen)

    def _changes(self, chosen: list[int]) -> Iterator[tuple[int, int, complex]]:
        """Every move of a tube to a free place and every swap, with the change of the vector sum it makes."""
        holder = {place: tube for tube, place in enumerate(chosen)}
        for tube, at in enumerate(chosen):
            for place in range(self.places):
                gain = self.vectors[place] - self.vectors[at]
                other = holder.get(place)
                lighter_kg = 0.0 if other is None else self.masses_kg[other]
                yield tube, place, gain * (self.masses_kg[tube] - lighter_kg)

    def _deepen(self, chosen: tuple[int, ...], total: complex) -> None:
        depth = len(chosen)
        if depth == len(self.masses_kg):
            if abs(total) < self.best_kg - self.tie_kg:
                self.best, self.best_kg = chosen, abs(total)
            return
        out_of_reach = abs(total) - self.left_kg[depth] >= self.best_kg - self.tie_kg
        if self.trials_left <= 0 or self.best_kg <= self.tie_kg or out_of_reach:
            return
        mass_kg = self.masses_kg[depth]
        equal_before = mass_kg == self.masses_kg[depth - 1]
        lowest = chosen[-1] + 1 if equal_before else 0
        # a mirrored load weighs the same, so the second tube need not be tried on the far side
        highest = self.places // 2 if depth == 1 else self.places - 1
        free = set(range(lowest, highest + 1)).difference(chosen)
        self.trials_left -= self.places
        sums = sorted((abs(total + mass_kg * self.vectors[place]), place) for place in free)
        for _, place in sums if depth + 1 < len(self.masses_kg) else sums[:1]:
            self._deepen((*chosen, place), total + mass_kg * self.vectors[place])
