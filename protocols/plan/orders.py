"""From one schedule to the orders on its resources: whatever keeps the orders keeps the capacities."""

from .network import Network


def resource_orders(net: Network, sequence: list[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """Arcs (a, b, length of a) such that any start times that keep them hold no more than there is.

    `sequence` are (start, task) in the order wished. Each task takes over units from the tasks that freed them
    last before its start, so that as few tasks as possible wait for each other without need.
    """
    arcs: set[tuple[int, int, int]] = set()
    # per resource: parcels of [free from, units, last holder]
    parcels: list[list[list[int]]] = [[[-(10**15), units, -1]] for units in net.capacity]
    for start, k in sequence:
        for r, units in net.uses[k]:
            stock = parcels[r]
            # what is free by then, the latest first, before what is not, the soonest first
            stock.sort(key=lambda p: (max(0, p[0] - start), -p[0], p[2]))
            need = units
            begin = start
            for parcel in stock:
                if not need:
                    break
                taken = min(need, parcel[1])
                need -= taken
                parcel[1] -= taken
                begin = max(begin, parcel[0])
                if parcel[2] >= 0:
                    arcs.add((parcel[2], k, net.duration[parcel[2]]))
            stock[:] = [p for p in stock if p[1]]
            stock.append([begin + net.duration[k], units, k])
    return sorted(arcs)
