"""Partial plans in order of start, each task as early as the tasks before it allow, and what they rule out.

A partial plan knows release times of all tasks, when each unit of each resource is free again, and the lateness
so far. That forgets that a start may be delayed to keep a limit. To remember it, every started task with an open
limit carries an echo: the same release times measured from its own start, at their least. What an echo says about
the end of its limit holds for every timing of the order, so the lateness it proves is never more than the truth.
"""

from typing import NamedTuple

from .bounds import Bounds, Releases
from .network import Network

NEVER = -(10**15)


class Trail(NamedTuple):
    """The placements that led to a state, last first."""

    before: "Trail | None"
    task: int
    start: int


class Echo(NamedTuple):
    """Times measured from the start of task `source`; NEVER where it has no say."""

    source: int
    now: int
    release: tuple[int, ...]
    free: Releases


class State(NamedTuple):
    """A partial plan. `late` and `finish` are lower bounds for every way to complete it."""

    late: int
    finish: int
    cost: int
    now: int
    mask: int
    release: tuple[int, ...]
    free: Releases
    open: tuple[int, ...]
    trail: Trail | None
    echoes: tuple[Echo, ...]


class States:
    """Makes partial plans of one network; with `limits` they carry echoes, without they ignore all limits."""

    def __init__(self, net: Network, bounds: Bounds, limits: bool) -> None:
        self.net = net
        self.bounds = bounds
        self.full = (1 << net.n) - 1
        self.held = [bool(net.uses[k]) for k in range(net.n)]
        self.out: list[list[tuple[int, int, bool]]] = [[] for _ in range(net.n)]
        for a, b, m, hard in net.limits if limits else ():
            if self.held[a]:
                self.out[a].append((b, m, hard))
        self.limits = any(self.out)
        # the tasks nothing has to come after by their whole length: one of them is the last to end
        self.ends = [k for k in range(net.n) if not any(w >= net.duration[k] for _, w in net.after[k])]
        self.touched = [sum({1 << a for a, _ in net.before[k]}) for k in range(net.n)]
        self.chained = all(not m & (m - 1) and m == w for m, w in zip(self.touched, net.wait, strict=True))

    def root(self) -> State:
        """Nothing placed yet, except what holds no resource and waits for nothing."""
        net = self.net
        now = min(net.release, default=0)
        free = tuple((NEVER,) * units for units in net.capacity)
        opened = tuple(k for k in range(net.n) if not net.wait[k])
        state = State(0, 0, 0, now, 0, tuple(net.release), free, opened, None, ())
        settled = self._settle(state)
        return settled if settled is not None else state

    def rated(self, state: State, parent: State, with_finish: bool) -> State | None:
        """The same state with its lower bounds, never below its parent's; None when a hard limit must break.

        The bound on the finish costs time and is left at the parent's unless asked for.
        """
        net, mask, release = self.net, state.mask, state.release
        late = state.cost + self.bounds.late(mask, release, state.free, state.now)
        for echo in state.echoes:
            for b, m, hard in self.out[echo.source]:
                if not mask >> b & 1:
                    at = echo.release[b]
                    if self.held[b] and echo.now > at:
                        at = echo.now
                    if at > m:
                        if hard:
                            return None
                        late += at - m
        late = max(late, parent.late)
        finish = parent.finish
        if with_finish:
            finish = max(finish, self.bounds.finish(mask, release, state.free, state.now))
            for k in self.ends:
                if release[k] + net.duration[k] > finish:
                    finish = release[k] + net.duration[k]
        return State(late, finish, *state[2:])

    def child(self, state: State, k: int, start: int, loose: bool) -> State | None:
        """The state after placing `k`; None when that breaks a hard limit. `loose` tasks stand in nobody's way."""
        placed = self._place(state, k, start, loose)
        return self._settle(placed) if placed is not None else None

    def _settle(self, state: State) -> State | None:
        """Places every open task that holds no resource, at its release."""
        moving = True
        while moving:
            moving = False
            for k in state.open:
                if not self.held[k]:
                    placed = self._place(state, k, state.release[k], True)
                    if placed is None:
                        return None
                    state = placed._replace(now=state.now)
                    moving = True
                    break
        return state

    def _place(self, state: State, k: int, start: int, loose: bool) -> State | None:
        net = self.net
        mask = state.mask | 1 << k
        release, free, cost, echoes = state.release, state.free, state.cost, state.echoes
        if start > release[k]:
            release = self._raised(release, k, start)
        end = start + net.duration[k]
        if net.uses[k]:
            free = self._held(free, k, end)
        due = net.due[k]
        if due is not None and end > due:
            cost += end - due
        if echoes or self.out[k]:
            moved = self._echoes(state, k, mask, loose)
            if moved is None:
                return None
            echoes, more = moved
            cost += more
        opened = [j for j in state.open if j != k]
        for j, _ in net.after[k]:
            if not net.wait[j] & ~mask and not mask >> j & 1 and j not in opened:
                opened.append(j)
        opened.sort()
        return State(
            state.late, state.finish, cost, start, mask, release, free, tuple(opened),
            Trail(state.trail, k, start), echoes,
        )  # fmt: skip

    def _raised(self, release: tuple[int, ...], k: int, start: int) -> tuple[int, ...]:
        """Release times once `k` starts no earlier than `start`."""
        after = self.net.after
        times = list(release)
        times[k] = start
        stack = [k]
        while stack:
            a = stack.pop()
            at = times[a]
            for b, w in after[a]:
                if at + w > times[b]:
                    times[b] = at + w
                    stack.append(b)
        return tuple(times)

    def _held(self, free: Releases, k: int, end: int) -> Releases:
        """When units are free again once `k` has taken those free first."""
        lists = list(free)
        for r, units in self.net.uses[k]:
            times = lists[r]
            lists[r] = (end,) if len(times) == 1 else tuple(sorted(times[units:] + (end,) * units))
        return tuple(lists)

    def start_in(self, now: int, release: tuple[int, ...], free: Releases, k: int) -> int:
        """The earliest start of `k` after all that is placed."""
        at = release[k]
        if now > at:
            at = now
        for r, units in self.net.uses[k]:
            ready = free[r][units - 1]
            if ready > at:
                at = ready
        return at

    def _echoes(self, state: State, k: int, mask: int, loose: bool) -> tuple[tuple[Echo, ...], int] | None:
        """The echoes after placing `k` and the lateness they now prove; None when a hard limit is broken."""
        kept: list[Echo] = []
        more = 0
        for echo in state.echoes:
            source, now, release, free = echo
            if not loose:
                at = self.start_in(now, release, free, k)
            elif self.held[k]:
                at = max(now, release[k])
            else:
                at = release[k]
            unmet = False
            for b, m, hard in self.out[source]:
                if b == k and at > m:
                    if hard:
                        return None
                    more += at - m
                elif not mask >> b & 1:
                    unmet = True
            if not unmet:
                continue
            if at > release[k]:
                release = self._raised(release, k, at)
            if not loose:
                free = self._held(free, k, at + self.net.duration[k])
                now = at
            kept.append(Echo(source, now, release, free))
        if not loose and any(not mask >> b & 1 for b, _, _ in self.out[k]):
            none = (NEVER,) * self.net.n
            still = tuple((NEVER,) * units for units in self.net.capacity)
            free = self._held(still, k, self.net.duration[k])
            kept.append(Echo(k, 0, self._raised(none, k, 0), free))
            kept.sort()
        return tuple(kept), more
