"""What the sheets read out of a zone's solved network: emitters in their order from the header, bores, heights."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from optimizer.errors import VerificationError
from optimizer.plan import Point, Zone, ZoneNetwork


@dataclass(frozen=True)
class Outlet:
    """One emitter as the network knows it."""

    lateral_id: str
    number: int
    """1 for the emitter nearest the header"""
    run_m: float
    """length of tube from the zone's inlet, with the equivalent length of fittings in it"""
    at: Point
    height_m: float
    flow_m3_s: float
    bore_m: float
    """of the tube that brings its water"""


def _neighbours(network: ZoneNetwork) -> dict[int, list[tuple[int, float, float]]]:
    answer: dict[int, list[tuple[int, float, float]]] = defaultdict(list)
    tubes = zip(network.tube_from, network.tube_to, network.tube_length_m, network.tube_bore_m, strict=True)
    for a, b, length, bore in tubes:
        answer[a].append((b, length, bore))
        answer[b].append((a, length, bore))
    return answer


def _runs(network: ZoneNetwork) -> dict[int, tuple[float, float]]:
    """Return, for every node that is reached, the length of tube from the inlet and the bore of the last tube."""
    neighbours = _neighbours(network)
    found = {network.inlet_node: (0.0, 0.0)}
    queue = [network.inlet_node]
    for node in queue:
        for other, length, bore in neighbours[node]:
            if other not in found:
                found[other] = (found[node][0] + length, bore)
                queue.append(other)
    return found


def _outlet(network: ZoneNetwork, lateral_id: str, number: int, run_m: float, index: int, bore_m: float) -> Outlet:
    node = network.emitter_node[index]
    at = (network.node_x_m[node], network.node_y_m[node])
    return Outlet(lateral_id, number, run_m, at, network.node_z_m[node], network.emitter_flow_m3_s[index], bore_m)


def outlets(zone: Zone) -> dict[str, tuple[Outlet, ...]]:
    """Return the emitters of a zone by lateral, from the header outwards.

    Args:
        zone: the zone with its solved network.

    Returns:
        Emitters under the id of their lateral, in the order of the zone's laterals.

    Raises:
        VerificationError: an emitter is cut off from the inlet, or a lateral has none.
    """
    network = zone.network
    runs = _runs(network)
    by_lateral: dict[str, list[tuple[float, int, int]]] = {lateral_id: [] for lateral_id in zone.lateral_ids}
    for index, (node, lateral_id) in enumerate(zip(network.emitter_node, network.emitter_lateral, strict=True)):
        if node not in runs or lateral_id not in by_lateral:
            raise VerificationError(f"zone {zone.id}: emitter {index} of '{lateral_id}' hangs on no tube of the zone")
        by_lateral[lateral_id].append((runs[node][0], index, node))
    answer = {}
    for lateral_id, found in by_lateral.items():
        if not found:
            raise VerificationError(f"zone {zone.id}: lateral '{lateral_id}' has no emitter in the network")
        answer[lateral_id] = tuple(
            _outlet(network, lateral_id, number, run, index, runs[node][1])
            for number, (run, index, node) in enumerate(sorted(found), start=1)
        )
    return answer


def laterals_outwards(zone: Zone) -> tuple[str, ...]:
    """Return the laterals of a zone by the length of tube from the zone's inlet to their first emitter.

    Lengths are compared to the millimetre; laterals equally far stay in the order of the zone.
    """
    found = outlets(zone)
    return tuple(sorted(zone.lateral_ids, key=lambda lateral_id: round(found[lateral_id][0].run_m, 3)))
