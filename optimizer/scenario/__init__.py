"""The scenario: what a user can say, read strictly and with every problem reported at once."""

from optimizer.scenario.load import load_scenario, parse_scenario
from optimizer.scenario.schema import Scenario

__all__ = ["Scenario", "load_scenario", "parse_scenario"]
