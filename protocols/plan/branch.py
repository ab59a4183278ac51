"""Which task may come next in a partial plan: all that matter, and no choice that cannot matter."""

from .states import State, States

# a choice: start, task, loose
Choice = tuple[int, int, bool]


def choices(states: States, state: State) -> list[Choice]:
    """The next tasks worth trying, earliest start first.

    A task that can start first and stand in nobody's way is placed without asking. A task that would start after
    another one could be over is not tried next, since the other fits in before it, unless a limit of that other
    task could want it later.
    """
    release, free, now = state.release, state.free, state.now
    found = [(states.start_in(now, release, free, k), k) for k in state.open]
    found.sort()
    if len(found) == 1:
        return [(found[0][0], found[0][1], False)]
    first = found[0][0]
    for start, k in found:
        if start > first:
            break
        if _stands_in_nobodys_way(states, state, k, start):
            return [(start, k, True)]
    length = states.net.duration
    if not states.limits:
        over = min(start + length[k] for start, k in found)
        return [(start, k, False) for start, k in found if start < over]
    free_ones = [(start, k) for start, k in found if not states.out[k]]
    return [
        (start, k, False)
        for start, k in found
        if not any(
            start >= other + length[j] and j != k and _fits_before(states, state, j, k) for other, j in free_ones
        )
    ]


def _fits_before(states: States, state: State, j: int, k: int) -> bool:
    """Whether `j` is over before `k` starts in every echo too."""
    length = states.net.duration[j]
    for _, now, release, free in state.echoes:
        if states.start_in(now, release, free, k) < states.start_in(now, release, free, j) + length:
            return False
    return True


def _stands_in_nobodys_way(states: States, state: State, k: int, start: int) -> bool:
    """Whether there is room for `k` beside everything that could run at the same time."""
    net, mask, release = states.net, state.mask, state.release
    end = start + net.duration[k]
    for r, units in net.uses[k]:
        room = net.capacity[r] - units
        for ready in state.free[r]:
            if ready > start:
                room -= 1
        if room < 0:
            return False
        for j in net.users[r]:
            if not mask >> j & 1 and j != k and release[j] < end:
                room -= dict(net.uses[j])[r]
                if room < 0:
                    return False
    return True
