"""The walk over orders: worse ones are accepted less and less, and the best one met is what counts."""

from collections.abc import Callable
from random import Random

from .local import Decoder, Pair
from .meter import Meter
from .moves import changed, components, unblocked
from .network import Network


class Walk:
    """Keeps one present order and changes it step by step; each walk ends by handing over the best order it met."""

    def __init__(self, net: Network, decoder: Decoder, meter: Meter, seed: int) -> None:
        self.net = net
        self.decoder = decoder
        self.meter = meter
        self.group = components(net)
        self.rng = Random(seed)
        self.cost = net.n // 7 + 1
        # what timing the best order at the end may take
        self.reserve = 12 * net.n

    def run(
        self, order: list[int], pair: Pair, until: int, heat: float, good_enough: Callable[[Pair], bool]
    ) -> list[int]:
        """The best order met from `order`, which decodes to `pair`, until about `until` nodes are spent in all.

        `heat` is the loss in seconds accepted at the start; it falls to nothing. `good_enough` ends the walk early.
        """
        best, top = pair, order
        self.decoder.decode(order)
        marks = (self.decoder.late, self.decoder.held_by, self.decoder.led_by)
        begun = self.meter.spent
        until = min(until, self.meter.budget) - self.reserve
        span = max(1, until - begun)
        rng = self.rng
        while self.meter.spent < until and not self.meter.over() and not good_enough(best):
            if rng.random() < 0.5:
                new = unblocked(self.net, order, *marks, rng)
            else:
                new = changed(self.net, order, self.group, rng)
            if new is None:
                self.meter.spend(1)
                continue
            self.meter.spend(self.cost)
            worth = self.decoder.decode(new)[0]
            left = 1.0 - (self.meter.spent - begun) / span
            # a later finish weighs little beside lateness, so that ties in lateness still tend to an early finish
            loss = worth[0] - pair[0] + (worth[1] - pair[1]) * 0.05
            if loss <= 0 or rng.random() * (heat * left + 1) > loss:
                order, pair = new, worth
                marks = (self.decoder.late, self.decoder.held_by, self.decoder.led_by)
                if worth < best:
                    best, top = worth, new
        return top
