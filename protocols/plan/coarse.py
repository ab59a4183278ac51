"""Large capacities in few steps: a looser problem whose bounds hold for the true one."""

from dataclasses import replace

from .network import Network

# beyond this many units of one resource, counting each unit costs more than the exactness is worth
_FINEST = 32


def coarsened(net: Network, up: bool = False) -> Network:
    """The same network, with resources above 32 units counted in 32 shares and every use rounded to whole shares.

    Rounded down, what has no plan here has none in truth; rounded up, what has a plan here has one in truth.
    """
    capacity = [min(units, _FINEST) for units in net.capacity]
    uses = []
    for pairs in net.uses:
        shares = []
        for r, units in pairs:
            scaled = units * capacity[r]
            share = -(-scaled // net.capacity[r]) if up else scaled // net.capacity[r]
            if share:
                shares.append((r, share))
        uses.append(tuple(shares))
    users = [[k for k in row if any(r == q for q, _ in uses[k])] for r, row in enumerate(net.users)]
    return replace(net, capacity=capacity, uses=uses, users=users)
