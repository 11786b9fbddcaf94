"""Kinds of layout to set side by side: each keeps the scenario and takes some of its choices away."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.errors import Problem, ScenarioError
from optimizer.feeds import HeaderPlace
from optimizer.scenario.schema import Bed, Scenario
from optimizer.site import row_angles

MOST_KINDS = 12
"""more small drawings do not fit a sheet"""

AT_ENDS = "header at the row ends"
BETWEEN = "header between the row ends"


@dataclass(frozen=True)
class Kind:
    """A kind of layout: the choices that are left, in words and as a scenario."""

    words: tuple[str, ...]
    scenario: Scenario
    header: str = ""
    """kind of header place that is left; empty for all"""

    @property
    def name(self) -> str:
        """The kind in words."""
        return ", ".join(self.words)


def header_kind(places: Sequence[HeaderPlace], ends: tuple[float, float], shortest_m: float) -> str:
    """Return what a set of header places is called when layouts are compared.

    Args:
        places: of one design.
        ends: least and greatest position the rows reach [m].
        shortest_m: nearer to an end than this a header moves to the end [m].
    """
    if len(places) > 1:
        return f"{len(places)} headers"
    return BETWEEN if ends[0] + shortest_m < places[0].u < ends[1] - shortest_m else AT_ENDS


def _narrowed(kind: Kind, word: str, **changes: object) -> Kind:
    return replace(kind, words=(*kind.words, word), scenario=kind.scenario.model_copy(update=changes))


def _turned(bed: Bed, name: str) -> Bed:
    """Return a bed with one row direction left; unchanged if it has none of this name."""
    for direction in bed.directions:
        turned = bed.model_copy(update={"directions": (direction,)})
        if row_angles(turned)[0][0] == name:
            return turned
    return bed


def _by_direction(kind: Kind) -> Iterator[Kind]:
    beds = kind.scenario.beds
    for name in dict.fromkeys(name for bed in beds for name, _ in row_angles(bed)):
        yield _narrowed(kind, f"rows {name}", beds=tuple(_turned(bed, name) for bed in beds))


def _by_header(kind: Kind) -> Iterator[Kind]:
    several = [f"{count} headers" for count in range(2, kind.scenario.limits.headers_at_most + 1)]
    for name in (AT_ENDS, BETWEEN, *several):
        yield replace(kind, words=(*kind.words, name), header=name)


def _by_product(kind: Kind) -> Iterator[Kind]:
    for line in kind.scenario.emitter_lines:
        yield _narrowed(kind, line.name, emitter_lines=(line,))


def _by_tube(kind: Kind) -> Iterator[Kind]:
    for tube in kind.scenario.blank_tubes:
        yield _narrowed(kind, tube.name, blank_tubes=(tube,))


BY: dict[str, Callable[[Kind], Iterator[Kind]]] = {
    "direction": _by_direction,
    "header": _by_header,
    "product": _by_product,
    "tube": _by_tube,
}
"""what layouts can be told apart by"""


def _by_zones(kind: Kind, counts: Sequence[int]) -> Iterator[Kind]:
    for count in counts:
        limits = kind.scenario.limits.model_copy(update={"zones_at_most": count})
        yield _narrowed(kind, f"at most {count} zone{'s' * (count != 1)}", limits=limits)


def kinds(scenario: Scenario, by: Sequence[str], zones: Sequence[int] = ()) -> tuple[Kind, ...]:
    """Return every combination of the choices asked for.

    Args:
        scenario: the scenario.
        by: names out of `BY`.
        zones: greatest numbers of zones to compare [-].

    Raises:
        ScenarioError: fewer than two kinds or more than a sheet holds, an unknown name, or more zones than allowed.
    """
    unknown = [name for name in by if name not in BY]
    if unknown:
        raise _wrong(f"layouts are not told apart by '{unknown[0]}'; choose from {', '.join(BY)}")
    _check_zones(scenario, zones)
    found = [Kind((), scenario)]
    for name in dict.fromkeys(by):
        found = [new for kind in found for new in BY[name](kind)]
    if zones:
        found = [new for kind in found for new in _by_zones(kind, sorted(set(zones)))]
    if len(found) < 2:
        raise _wrong(
            f"the scenario leaves only one layout to compare: {found[0].name or 'nothing was asked for'}; "
            f"allow more in it (beds.0.directions, emitter_lines ...) or compare by something else: {', '.join(BY)}"
        )
    if len(found) > MOST_KINDS:
        raise _wrong(f"{len(found)} layouts do not fit one sheet; compare at most {MOST_KINDS}")
    return tuple(found)


def _wrong(message: str) -> ScenarioError:
    return ScenarioError("compare", [Problem("", message)])


def _check_zones(scenario: Scenario, zones: Sequence[int]) -> None:
    most = scenario.limits.zones_at_most
    for count in zones:
        if count < 1:
            raise _wrong(f"{count} zones cannot be laid; ask for 1 or more")
        if most is not None and count > most:
            raise _wrong(f"{count} zones are more than limits.zones_at_most = {most} of the scenario")
