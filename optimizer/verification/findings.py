"""What a check of a plan hands back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Finding:
    """One thing in a plan that does not hold."""

    rule: str
    path: str
    """ids of what it is about, such as "lateral R3-1" """
    message: str
    """what is wrong, in the user's units"""

    def __str__(self) -> str:
        return f"{self.rule}: {self.path}: {self.message}" if self.path else f"{self.rule}: {self.message}"


@dataclass(frozen=True)
class ZoneFigures:
    """Water figures of a zone as recomputed from the plan's geometry and the scenario."""

    zone_id: str
    emitters: int
    flow_m3_s: float
    usable_flow_m3_s: float
    """infinite where the supply sets no limit"""
    source_head_m: float
    inlet_head_m: float
    least_flow_m3_s: float
    greatest_flow_m3_s: float
    least_head_m: float
    greatest_head_m: float
    flow_variation: float
    emission_uniformity: float
    greatest_velocity_m_s: float
    static_head_m: float
    fill_volume_m3: float
    greatest_flow_difference: float
    """greatest difference of an emitter's flow from the plan's, as a share"""


@dataclass(frozen=True)
class Verification:
    """Everything that was checked and everything that does not hold."""

    findings: tuple[Finding, ...]
    checked: tuple[tuple[str, int], ...]
    """how many things each rule looked at"""
    zones: tuple[ZoneFigures, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing was found."""
        return not self.findings

    def of_rule(self, rule: str) -> tuple[Finding, ...]:
        """Return the findings of one rule."""
        return tuple(finding for finding in self.findings if finding.rule == rule)


@dataclass(frozen=True)
class Verdict:
    """One thing looked at: all is well where the message is empty."""

    path: str
    message: str = ""


Verdicts = Iterator[Verdict]


def judged(path: str, holds: bool, message: str) -> Verdict:
    """Return a verdict that carries its message only where something does not hold."""
    return Verdict(path, "" if holds else message)


def findings_of(rule: str, verdicts: Iterable[Verdict]) -> tuple[Finding, ...]:
    """Return the findings among the verdicts of a rule."""
    return tuple(Finding(rule, verdict.path, verdict.message) for verdict in verdicts if verdict.message)
