"""The walk over orders: worse ones are accepted less and less, and the best one met is what counts."""

from collections.abc import Callable
from random import Random

from .local import Decoder, Pair, ranked
from .meter import Meter
from .moves import changed, components, shifted, unblocked
from .network import Network


class Walk:
    """Keeps one present order and changes it step by step; each walk ends by handing over the best order it met."""

    def __init__(self, net: Network, decoder: Decoder, meter: Meter, seed: int) -> None:
        self.net = net
        self.decoder = decoder
        self.meter = meter
        self.group = components(net)
        self.rng = Random(seed)
        # placing takes longer the more resources a task holds
        weight = (net.n + sum(len(uses) for uses in net.uses)) // 2
        self.cost = weight // 7 + 1
        self.cost_anew = weight // 3 + 1
        # what timing the best order at the end may take
        self.reserve = 12 * net.n

    def run(
        self,
        order: list[int],
        pair: Pair,
        until: int,
        kind: tuple[float, float],
        good_enough: Callable[[Pair], bool],
    ) -> list[int]:
        """The best order met from `order`, which decodes to `pair`, until about `until` nodes are spent in all.

        `kind` is the loss in seconds accepted at the start, which falls to nothing, and the share of steps that weave
        a whole group in anew. `good_enough` ends the walk early.
        """
        heat, anew = kind
        best, top = pair, order
        self.decoder.decode(order)
        marks = (self.decoder.late, self.decoder.held_by, self.decoder.led_by)
        begun = self.meter.spent
        until = min(until, self.meter.budget) - self.reserve
        span = max(1, until - begun)
        rng = self.rng
        while self.meter.spent < until and not self.meter.over() and not good_enough(best):
            new = self._neighbour(order, marks, anew)
            if new is None or new == order:
                continue
            worth = self.decoder.decode(new)[0]
            left = 1.0 - (self.meter.spent - begun) / span
            # a later finish weighs little beside lateness, so that ties in lateness still tend to an early finish
            loss = worth[0] - pair[0] + (worth[1] - pair[1]) * 0.02
            if loss <= 0 or rng.random() * (heat * left + 1) > loss:
                order, pair = new, worth
                marks = (self.decoder.late, self.decoder.held_by, self.decoder.led_by)
                if worth < best:
                    best, top = worth, new
        return top

    def _neighbour(
        self, order: list[int], marks: tuple[list[int], list[int], list[int]], anew: float
    ) -> list[int] | None:
        """Another order: a group woven in anew, or now and then a small change; what it takes is counted."""
        rng = self.rng
        kind = rng.random()
        if kind < anew:
            rule = shifted(order, self.group, *marks, rng)
            self.meter.spend(1 if rule is None else self.cost_anew)
            return None if rule is None else ranked(self.net, rule)
        if kind < (1 + anew) / 2:
            new = unblocked(self.net, order, *marks, rng)
        else:
            new = changed(self.net, order, self.group, rng)
        self.meter.spend(1 if new is None else self.cost)
        return new
