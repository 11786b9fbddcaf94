"""What is laid once everything is chosen: stretches of header, mainline, zones, and where their valves stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from optimizer.geometry import Point
from optimizer.problem.case import Case, Run
from optimizer.scenario.schema import BlankTube, Scenario
from optimizer.site import SiteShapes

SUPPLY = -1
"""what feeds a part of mainline that starts at the supply"""


@dataclass(frozen=True, eq=False)
class MainPart:
    """Mainline between two branching places, in the direction of flow."""

    points: tuple[Point, ...]
    length_um: int
    """tube needed for it, with its rise"""
    above: int
    """number of the part that feeds it, or SUPPLY"""
    tube: BlankTube
    rise_um: int = 0
    """how far it climbs at its end, from the ground to the soil of a raised bed"""


@dataclass(frozen=True)
class LaidHeader:
    """A stretch of header tube with its take-offs, fed at one place."""

    block: int
    run: Run
    part: int
    """number of the mainline part that ends at its inlet"""
    inlet: int
    """vertex of its header at which it is fed"""


@dataclass(frozen=True)
class ZoneRows:
    """The rows of one stretch of header that run in a zone."""

    header: int
    rows: tuple[int, ...]


@dataclass(frozen=True)
class ValvePlace:
    """A valve where tube begins to serve one zone alone, or all zones where rows have shut-offs."""

    zones: tuple[int, ...]
    parts: tuple[int, ...]
    """mainline parts it opens; they start at one place"""
    headers: tuple[int, ...]
    """headers it opens with no mainline between"""


@dataclass(frozen=True, eq=False)
class Laying:
    """A garden as it is laid.

    Args:
        cases: design of each block.
        headers: all stretches of header.
        mainline: all parts of mainline, each behind the part that feeds it.
        zones: the rows of each zone.
        shut_offs: whether every lateral has a shut-off, so that the rows of one header may run in different zones.
        valve_per_header: whether every header has a valve of its own, whatever its zone.
    """

    cases: tuple[Case, ...]
    headers: tuple[LaidHeader, ...]
    mainline: tuple[MainPart, ...]
    zones: tuple[tuple[ZoneRows, ...], ...]
    shut_offs: bool = False
    valve_per_header: bool = False

    @property
    def scenario(self) -> Scenario:
        """The scenario."""
        return self.cases[0].scenario

    @property
    def shapes(self) -> SiteShapes:
        """The site."""
        return self.cases[0].shapes

    @cached_property
    def header_zones(self) -> tuple[tuple[int, ...], ...]:
        """The zones each header feeds."""
        found: list[list[int]] = [[] for _ in self.headers]
        for zone, members in enumerate(self.zones):
            for member in members:
                found[member.header].append(zone)
        return tuple(tuple(zones) for zones in found)

    @cached_property
    def part_zones(self) -> tuple[tuple[int, ...], ...]:
        """The zones fed through each part of mainline."""
        found: list[set[int]] = [set() for _ in self.mainline]
        for header, zones in zip(self.headers, self.header_zones, strict=True):
            for part in self.way(header.part):
                found[part] |= set(zones)
        return tuple(tuple(sorted(zones)) for zones in found)

    def way(self, part: int) -> Iterator[int]:
        """Yield a part of mainline and those that feed it, up to the supply."""
        while part != SUPPLY:
            yield part
            part = self.mainline[part].above

    def zone_parts(self, zone: int) -> tuple[int, ...]:
        """Return the parts of mainline that lead to the headers of a zone, each behind the one that feeds it."""
        found = {part for member in self.zones[zone] for part in self.way(self.headers[member.header].part)}
        return tuple(sorted(found))

    @cached_property
    def valves(self) -> tuple[ValvePlace, ...]:
        """The zone valves, in the order of zones."""
        if self.valve_per_header:
            return tuple(ValvePlace(zones, (), (at,)) for at, zones in enumerate(self.header_zones))
        found: dict[tuple[tuple[int, ...], int], tuple[list[int], list[int]]] = {}
        for part, zones in enumerate(self.part_zones):
            above = self.mainline[part].above
            if self._alone(zones) and (above == SUPPLY or not self._alone(self.part_zones[above])):
                found.setdefault((self._opened_by(zones), above), ([], []))[0].append(part)
        for header, zones in enumerate(self.header_zones):
            above = self.headers[header].part
            if self._alone(zones) and not self._alone(self.part_zones[above]):
                found.setdefault((self._opened_by(zones), above), ([], []))[1].append(header)
        return tuple(ValvePlace(zones, tuple(p), tuple(h)) for (zones, _), (p, h) in sorted(found.items()))

    def _opened_by(self, zones: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(range(len(self.zones))) if self.shut_offs else zones

    def _alone(self, zones: tuple[int, ...]) -> bool:
        """Say whether tube that feeds these zones can be opened and shut by one valve."""
        return self.shut_offs or len(zones) == 1

    @cached_property
    def lateral_starts(self) -> tuple[int, ...]:
        """Number of the first lateral of each block among the laterals of all blocks."""
        starts = [0]
        for case in self.cases:
            starts.append(starts[-1] + len(case.feed.laterals))
        return tuple(starts)

    def zone_laterals(self, zone: int) -> Iterator[tuple[int, int]]:
        """Yield (header, number of the lateral in its block) of all laterals of a zone."""
        for member in self.zones[zone]:
            header = self.headers[member.header]
            for index, lateral in enumerate(self.cases[header.block].feed.laterals):
                if lateral.header == header.run.header and lateral.row in member.rows:
                    yield member.header, index


def whole_run(header: int, run: Run) -> ZoneRows:
    """Return all rows of a stretch of header as part of a zone."""
    return ZoneRows(header, tuple(range(run.first, run.last + 1)))
