"""The compiled march of one column; :mod:`plasmawright.science.settling` says what it solves and calls it.

All compiled functions live in this one module: their cache goes stale across files. They release the interpreter lock,
so that draws run on as many threads as they are given. Arrays are kinds by grid cells, plasma the last row where it has
one; face j lies between grid cells j - 1 and j.
"""

import math

import numpy as np
from numba import njit

# Red cells come first in every suspension: they are what drives the rest.
RED = 0
# The share of a step that the fastest outflow may empty of a grid cell; Heun with limited slopes holds to 0.5.
EMPTIED_FRAC_MAX = 0.48
# The same for emptying and for the news of filling together, where Heun's method alone sets the bound (2 is its edge).
NEWS_FRAC_MAX = 1.4
# A kind thinned below this share of its own start does not set the step there (its outflow is capped instead): a
# vanishing tail of lone red cells would otherwise pace the whole march.
PRESENT_FRAC_MIN = 1e-3
# Steps between two evaluations of what changes slowly: the packing limit under the bed's load, the bound of the step,
# and stirring, which is implicit and takes the steps between in one.
SLOW_EVERY_STEPS = 4
STEPS_MAX = 400_000

_compiled = njit(nogil=True, cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "reassoc"})


@_compiled
def _limit_packing(phi, rho_gap, acceleration, cell_height, packed, loose, load_pa, exponent, floor, limit):
    """Fill ``limit`` with the packing limit of each grid cell under the load of the cells above it."""
    kinds, cells = phi.shape
    load = 0.0
    for j in range(cells):
        weight = 0.0
        total = 1e-300
        tight = 0.0
        slack = 0.0
        for i in range(kinds):
            share = phi[i, j]
            weight += rho_gap[i] * share
            total += share
            tight += share * packed[i]
            slack += share * (packed[i] - loose[i])
        here = max(weight, 0.0) * acceleration[j] * cell_height
        relief = math.exp(-exponent * math.log1p((load + 0.5 * here) / load_pa))
        load += here
        limit[j] = max((tight - slack * relief) / total, floor) if total > 1e-12 else packed[RED]


@_compiled
def _reconstruct(phi, up, low):
    """Fill the two sides of every inner face with limited slopes (van Leer's 1977 limiter); the last row is plasma."""
    kinds, cells = phi.shape
    for j in range(cells):
        up[kinds, j] = 1.0
        low[kinds, j] = 1.0
    for i in range(kinds):
        up[i, 0] = 0.0
        low[i, 0] = phi[i, 0]
        up[i, 1] = phi[i, 0]
        # over the floor the bed is as steep as the limiter allows: a flat lowest cell would hold its filling back
        low[i, cells - 1] = min(phi[i, cells - 1], phi[i, cells - 2])
        for j in range(1, cells - 1):
            before = phi[i, j] - phi[i, j - 1]
            after = phi[i, j + 1] - phi[i, j]
            half = 0.25 * (before + after)
            least = min(abs(before), abs(after))
            half = max(min(half, least), -least) if before * after > 0.0 else 0.0
            up[i, j + 1] = phi[i, j] + half
            low[i, j] = phi[i, j] - half
        for j in range(cells):
            up[kinds, j] -= up[i, j]
            low[kinds, j] -= low[i, j]


@_compiled
def _drive(phi, low, slip, pull, red, mobility, rho_gap, expression, entrainment, acceleration, limit, power):
    """Fill ``slip`` with the velocity of every kind relative to plasma at each face, from its lower side."""
    kinds, cells = phi.shape
    extra = slip[kinds]
    for j in range(cells):
        pull[j] = 0.0
        extra[j] = 0.0
    for i in range(kinds):
        gap = rho_gap[i]
        for j in range(cells):
            pull[j] += phi[i, j]
            extra[j] += gap * low[i, j]
    for j in range(cells):
        crowd = min(1.0 - low[kinds, j], 1.0)
        filled = min(crowd / limit[j], 1.0)
        filled *= filled
        filled *= filled
        # the tangent at the limit: a grid cell that is full as a whole lets nothing in, whatever its upper side says
        room = max(min(1.0 - filled * filled, 8.0 * (1.0 - pull[j] / limit[j])), 0.0)
        pull[j] = acceleration[j] * room * (1.0 - crowd)
    if power != 1.0:
        for j in range(cells):
            crowd = 1.0 - low[kinds, j]
            pull[j] *= math.pow(max(1.0 - crowd, 0.0), power - 1.0)
    for j in range(cells):
        red[j] = mobility[RED] * pull[j] * (rho_gap[RED] - extra[j]) * low[RED, j]
    for i in range(kinds):
        own = mobility[i]
        gap = rho_gap[i]
        pressed = expression[i]
        carried = entrainment[i]
        for j in range(cells):
            carry = carried / (low[RED, j] + 0.05) - pressed
            slip[i, j] = own * pull[j] * (gap - extra[j]) + carry * red[j]
    for j in range(cells):
        extra[j] = 0.0


@_compiled
def _hear_back(up, low, stiff, mobility, rho_gap, acceleration, limit):
    """Fill ``stiff`` with the speed at which news of a filling grid cell travels back.

    It exceeds every cell's own velocity where a bed is nearly packed; a step that ignored it would make the bed ring.
    """
    rows, cells = up.shape
    for j in range(cells):
        stiff[j] = 0.0
    for i in range(rows - 1):
        weight = mobility[i] * abs(rho_gap[i])
        for j in range(cells):
            stiff[j] += up[i, j] * weight
    for j in range(cells):
        free = low[rows - 1, j]
        filled = min((1.0 - free) / limit[j], 1.0)
        filled2 = filled * filled
        filled4 = filled2 * filled2
        steep = 8.0 * filled4 * filled2 * filled / limit[j] * free + 1.0 - filled4 * filled4
        stiff[j] *= acceleration[j] * free * free * steep


@_compiled
def _pair(slip, up, low, give, take, family):
    """Fill the rates at which kinds change places over each face, pair by pair.

    ``give[i, j] up[i, j] - take[i, j] low[i, j]`` is the downward flux of kind i through face j, which lies between
    grid cells j - 1 and j.
    """
    rows, cells = slip.shape
    for i in range(rows):
        for j in range(cells):
            give[i, j] = 0.0
            take[i, j] = 0.0
    for i in range(rows - 1):
        for k in range(i + 1, rows):
            if family[i] == family[k]:
                continue
            for j in range(cells):
                gap = slip[i, j] - slip[k, j]
                ahead = max(gap, 0.0)
                behind = ahead - gap
                give[i, j] += low[k, j] * ahead
                take[i, j] += up[k, j] * behind
                give[k, j] += low[i, j] * behind
                take[k, j] += up[i, j] * ahead


@_compiled
def _fastest_per_s(phi, give, take, stiff, leaving, face_m2, inverse_m3, present):
    """Return the rate that bounds the step: of emptying, and of news travelling back through a packing bed."""
    kinds, cells = phi.shape
    for j in range(cells):
        leaving[j] = 0.0
    for i in range(kinds):
        for j in range(cells - 1):
            rate = (give[i, j + 1] * face_m2[j + 1] + take[i, j] * face_m2[j]) * inverse_m3[j]
            here = rate if phi[i, j] > present[i] else 0.0
            leaving[j] = max(leaving[j], here)
    fastest = 0.0
    for j in range(cells):
        news = stiff[j] * face_m2[j] * inverse_m3[j]
        fastest = max(fastest, leaving[j] / EMPTIED_FRAC_MAX, (leaving[j] + news) / NEWS_FRAC_MAX)
    return fastest


@_compiled
def _exchange(phi, up, low, give, take, limit, flow, total, room, face_m2, cell_m3, inverse_m3, step_s, changed):
    """Set ``changed`` to ``phi`` after ``step_s`` of the given rates.

    No grid cell gives more than it holds, and none takes more than its packing limit leaves room for: a step that fills
    a cell from far below its limit would otherwise pass it.
    """
    kinds, cells = phi.shape
    cap = 0.5 / step_s
    total[0] = 0.0
    total[cells] = 0.0
    for j in range(1, cells):
        # all cells together go down as the plasma goes up
        total[j] = step_s * face_m2[j] * (take[kinds, j] * low[kinds, j] - give[kinds, j] * up[kinds, j])
    for j in range(cells):
        room[j] = limit[j]
    for i in range(kinds):
        for j in range(cells):
            room[j] -= phi[i, j]
    for j in range(cells):
        coming = max(total[j], 0.0) + max(-total[j + 1], 0.0)
        room[j] = min(max(room[j], 0.0) * cell_m3[j] / (coming + 1e-300), 1.0)
    for j in range(1, cells):
        total[j] = room[j] if total[j] > 0.0 else room[j - 1]
    for i in range(kinds):
        for j in range(1, cells):
            down = min(give[i, j] * face_m2[j], cap * cell_m3[j - 1])
            lift = min(take[i, j] * face_m2[j], cap * cell_m3[j])
            flow[j] = total[j] * (down * up[i, j] - lift * low[i, j])
        for j in range(cells):
            changed[i, j] = phi[i, j] + step_s * inverse_m3[j] * (flow[j] - flow[j + 1])


@_compiled
def _stir(phi, red_half, sublayer_cells, stirring, step_s, face_m2, cell_m3, cell_height, lower, carry, mixed):
    """Mix the plasma above the bed by diffusion, implicitly, leaving a still sublayer over the bed."""
    kinds, cells = phi.shape
    top = 0
    while top < cells and phi[RED, top] < red_half:
        top += 1
    stirred = top - sublayer_cells
    if stirred < 2 or top == cells:
        return
    pace = stirring * step_s / cell_height
    for j in range(stirred):
        above = pace * face_m2[j] if j > 0 else 0.0
        below = pace * face_m2[j + 1] if j < stirred - 1 else 0.0
        pivot = cell_m3[j] + above + below
        if j > 0:
            pivot -= above * lower[j - 1]
        lower[j] = below / pivot
        carry[j] = 1.0 / pivot
    for i in range(kinds):
        mixed[0] = cell_m3[0] * phi[i, 0] * carry[0]
        for j in range(1, stirred):
            mixed[j] = (cell_m3[j] * phi[i, j] + pace * face_m2[j] * mixed[j - 1]) * carry[j]
        for j in range(stirred - 2, -1, -1):
            mixed[j] += lower[j] * mixed[j + 1]
        # what is solved for is the flow over each face: a solution put in place would lose its rounding at every step
        above = 0.0
        for j in range(stirred):
            below = pace * face_m2[j + 1] * (mixed[j] - mixed[j + 1]) if j < stirred - 1 else 0.0
            phi[i, j] = max(phi[i, j] + (above - below) / cell_m3[j], 0.0)
            above = below


@_compiled
def _march_one(
    phi,
    family,
    moments_s,
    mobility,
    rho,
    rho_plasma,
    expression,
    entrainment,
    packed,
    loose,
    load_pa,
    exponent,
    stirring,
    power,
    face_m2,
    acceleration,
    cell_m3,
    cell_height,
    sublayer_m,
    seen,
):
    """March one column through ``moments_s`` and write its cells at each into ``seen``; return the steps taken."""
    kinds, cells = phi.shape
    now = phi.copy()
    first = np.empty_like(now)
    second = np.empty_like(now)
    up = np.zeros((kinds + 1, cells))
    low = np.zeros((kinds + 1, cells))
    slip = np.zeros((kinds + 1, cells))
    give = np.zeros((kinds + 1, cells))
    take = np.zeros((kinds + 1, cells))
    flow = np.zeros(cells + 1)
    total = np.zeros(cells + 1)
    mixed = np.zeros(cells)
    pull = np.zeros(cells)
    red = np.zeros(cells)
    stiff = np.zeros(cells)
    limit = np.zeros(cells)
    inverse_m3 = 1.0 / cell_m3
    rho_gap = rho - rho_plasma
    red_half = 0.0
    whole = 0.0
    for j in range(cells):
        red_half += 0.5 * phi[RED, j] * cell_m3[j]
        whole += cell_m3[j]
    red_half /= whole
    sublayer_cells = max(int(math.ceil(sublayer_m / cell_height)), 1)
    present = np.empty(kinds)
    mean = 0.0
    for i in range(kinds):
        held = 0.0
        for j in range(cells):
            held += phi[i, j] * cell_m3[j]
        present[i] = max(PRESENT_FRAC_MIN * held / whole, 1e-15)
        mean += held / whole
    # What was poured is not yet a bed: its mixture lies below the packing limit. The mixture, not the fullest place:
    # a bed that is spun once more must not be let pack closer for having been one.
    floor = min(mean + 0.02, 1.0)
    clock = 0.0
    unstirred = 0.0
    bound = 0.0
    steps = 0
    for m in range(moments_s.size):
        while clock < moments_s[m] and steps < STEPS_MAX:
            if steps % SLOW_EVERY_STEPS == 0:
                _limit_packing(now, rho_gap, acceleration, cell_height, packed, loose, load_pa, exponent, floor, limit)
            _reconstruct(now, up, low)
            _drive(now, low, slip, pull, red, mobility, rho_gap, expression, entrainment, acceleration, limit, power)
            _pair(slip, up, low, give, take, family)
            if steps % SLOW_EVERY_STEPS == 0:
                _hear_back(up, low, stiff, mobility, rho_gap, acceleration, limit)
                bound = 1.0 / (_fastest_per_s(now, give, take, stiff, pull, face_m2, inverse_m3, present) + 1e-300)
            left = moments_s[m] - clock
            step = min(bound, left)
            if step < left < 2.0 * step:
                step = 0.5 * left
            _exchange(now, up, low, give, take, limit, flow, total, pull, face_m2, cell_m3, inverse_m3, step, first)
            _reconstruct(first, up, low)
            _drive(first, low, slip, pull, red, mobility, rho_gap, expression, entrainment, acceleration, limit, power)
            _pair(slip, up, low, give, take, family)
            _exchange(first, up, low, give, take, limit, flow, total, pull, face_m2, cell_m3, inverse_m3, step, second)
            for i in range(kinds):
                for j in range(cells):
                    now[i, j] = 0.5 * (now[i, j] + second[i, j])
            clock = moments_s[m] if step == left else clock + step
            steps += 1
            unstirred += step
            if stirring > 0.0 and (steps % SLOW_EVERY_STEPS == 0 or clock >= moments_s[m]):
                _stir(
                    now, red_half, sublayer_cells, stirring, unstirred, face_m2, cell_m3, cell_height, red, pull, mixed
                )
                unstirred = 0.0
        seen[m] = now
    return steps


@_compiled
def march_range(
    start,
    stop,
    phi,
    family,
    moments_s,
    mobility,
    rho,
    rho_plasma,
    expression,
    entrainment,
    packed,
    loose,
    load_pa,
    exponent,
    stirring,
    power,
    face_m2,
    acceleration,
    cell_m3,
    cell_height,
    sublayer_m,
    seen,
    steps,
):
    """March the draws ``start`` to ``stop`` one after the other."""
    for d in range(start, stop):
        steps[d] = _march_one(
            phi[d],
            family,
            moments_s,
            mobility[d],
            rho[d],
            rho_plasma[d],
            expression[d],
            entrainment[d],
            packed[d],
            loose[d],
            load_pa[d],
            exponent[d],
            stirring[d],
            power,
            face_m2[d],
            acceleration[d],
            cell_m3[d],
            cell_height[d],
            sublayer_m,
            seen[d],
        )
