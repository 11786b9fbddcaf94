"""One scenario planned over and over with other values of one or two of its entries."""

from __future__ import annotations

import copy
import dataclasses
import hashlib
import itertools
import json
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from optimizer import design
from optimizer.choose.search import Progress, SearchLimits
from optimizer.errors import DripLayoutError, Problem, ScenarioError
from optimizer.plan import Outcome
from optimizer.scenario.load import check_scenario
from optimizer.scenario.schema import Scenario
from optimizer.study.compare import figures

MOST_PARAMETERS = 2
RESULTS_VERSION = 1


@dataclass(frozen=True)
class Parameter:
    """An entry of the scenario and the values it takes, as they were written."""

    path: str
    values: tuple[str, ...]


@dataclass(frozen=True)
class Variant:
    """A scenario with one value for each parameter."""

    values: tuple[str, ...]
    scenario: Scenario
    key: str
    """the same for the same scenario, limits and program"""


@dataclass(frozen=True)
class Result:
    """What planning a variant came to; figures are None where there is no plan."""

    status: str
    reason: str = ""
    missing_ppm: int | None = None
    money_ct: int | None = None
    waste_um: int | None = None
    kept_um: int | None = None
    fittings: int | None = None
    pushes: int | None = None
    unevenness: int | None = None
    """flow variation of the worst zone, in hundredths of a per cent"""
    zones: int | None = None
    row_direction: str = ""
    header_places: str = ""
    product: str = ""
    tube: str = ""
    failed: int = 0
    """exit code of the error that kept it from being planned; such results are not kept"""


# ------------------------------------------------------------ what is varied


def read_parameter(text: str) -> Parameter:
    """Read a parameter such as "limits.header_step=0.5 m,1 m".

    Values are parted by commas, or by semicolons where a value has commas in it.

    Raises:
        ScenarioError: no path, no values, or a value given twice.
    """
    path, equals, rest = text.partition("=")
    mark = ";" if ";" in rest else ","
    values = tuple(value.strip() for value in rest.split(mark))
    if not equals or not path.strip() or not all(values):
        raise ScenarioError(
            "--vary", [Problem(text, "write it as PATH=VALUE,VALUE like 'limits.header_step=0.5 m,1 m'")]
        )
    twice = sorted({value for value in values if values.count(value) > 1})
    if twice:
        raise ScenarioError("--vary", [Problem(path.strip(), f"'{twice[0]}' is given twice")])
    return Parameter(path.strip(), values)


def with_value(values: Mapping[str, Any], path: str, text: str) -> dict[str, Any]:
    """Return a copy of a scenario's plain values with one entry set.

    An entry that is text stays text; elsewhere numbers, true and false, and lists are read as in TOML.

    Args:
        values: as read from a scenario file.
        path: keys and list places from 0, parted by dots.
        text: the new value as written.

    Raises:
        ScenarioError: the path leads nowhere.
    """
    changed: dict[str, Any] = copy.deepcopy(dict(values))
    place: Any = changed
    parts = path.split(".")
    for number, part in enumerate(parts[:-1]):
        key = _key(place, part, ".".join(parts[:number]), path)
        if key not in _keys(place):
            place[key] = {}
        place = place[key]
    key = _key(place, parts[-1], ".".join(parts[:-1]), path)
    present = place[key] if key in _keys(place) else None
    place[key] = text if isinstance(present, str) else _literal(text)
    return changed


def _keys(place: Any) -> Sequence[str | int]:
    return list(place) if isinstance(place, dict) else range(len(place))


def _key(place: Any, part: str, above: str, path: str) -> str | int:
    """Return a part of a path as a key of a table or place in a list."""
    if isinstance(place, dict):
        return part
    if not isinstance(place, list):
        raise ScenarioError("--vary", [Problem(path, f"'{above}' is a single value; nothing lies below it")])
    if not part.isdecimal() or int(part) >= len(place):
        last = len(place) - 1
        raise ScenarioError("--vary", [Problem(path, f"'{above}' is a list; write its place as a number 0 to {last}")])
    return int(part)


def _literal(text: str) -> Any:
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


def variants(
    values: Mapping[str, Any],
    parameters: Sequence[Parameter],
    source: str,
    folder: Path,
    limits: SearchLimits,
) -> tuple[Variant, ...]:
    """Return the scenario with every combination of values, all of them checked.

    Args:
        values: as read from a scenario file.
        parameters: one or two.
        source: name of the file, for messages.
        folder: where files named in it are looked for.
        limits: how long each is searched.

    Raises:
        ScenarioError: the scenario is wrong as it is, a path leads nowhere, or a value does not fit; with every
            problem found.
    """
    _check_parameters(parameters)
    check_scenario(values, source, folder)
    for alone in parameters:
        _check_values(values, [alone], [(text,) for text in alone.values], source, folder)
    combinations = list(itertools.product(*(parameter.values for parameter in parameters)))
    scenarios = _check_values(values, parameters, combinations, source, folder)
    return tuple(
        Variant(chosen, scenario, _fingerprint(scenario, limits))
        for chosen, scenario in zip(combinations, scenarios, strict=True)
    )


def _check_values(
    values: Mapping[str, Any],
    parameters: Sequence[Parameter],
    combinations: Sequence[tuple[str, ...]],
    source: str,
    folder: Path,
) -> list[Scenario]:
    """Return the scenario with each combination of values, or raise with what is wrong with any of them."""
    found, problems = [], []
    for chosen in combinations:
        changed: Mapping[str, Any] = values
        for parameter, text in zip(parameters, chosen, strict=True):
            changed = with_value(changed, parameter.path, text)
        told = ", ".join(f"{parameter.path} = {text}" for parameter, text in zip(parameters, chosen, strict=True))
        try:
            found.append(check_scenario(changed, source, folder))
        except ScenarioError as error:
            problems += [Problem(item.path, f"{item.message} (with {told})") for item in error.problems]
    if problems:
        raise ScenarioError(source, problems)
    return found


def _check_parameters(parameters: Sequence[Parameter]) -> None:
    if not 1 <= len(parameters) <= MOST_PARAMETERS:
        raise ScenarioError("--vary", [Problem("", f"vary 1 to {MOST_PARAMETERS} entries, not {len(parameters)}")])
    paths = [parameter.path for parameter in parameters]
    if len(set(paths)) < len(paths):
        raise ScenarioError("--vary", [Problem(paths[0], "is varied twice; give all its values at once")])


def _fingerprint(scenario: Scenario, limits: SearchLimits) -> str:
    programs = [version("drip-layout-optimizer"), version("ortools")]
    content = [scenario.model_dump_json(), repr(limits.seconds), repr(limits.seed), *programs]
    return hashlib.sha256("\n".join(content).encode()).hexdigest()


# ------------------------------------------------------------ planning


def result_of(outcome: Outcome) -> Result:
    """Return what is kept of an outcome."""
    plan = outcome.plan
    if plan is None:
        return Result(str(outcome.status), " ".join(outcome.reasons))
    found = figures(plan)
    goals = found.goals
    return Result(
        status=str(outcome.status),
        missing_ppm=goals.missing_ppm,
        money_ct=goals.money_ct,
        waste_um=goals.waste_um,
        kept_um=found.kept_um,
        fittings=goals.fittings,
        pushes=found.pushes,
        unevenness=goals.unevenness,
        zones=found.zones,
        row_direction=_told(bed.row_angle_name for bed in plan.beds),
        header_places=_told(place for bed in plan.beds for place in bed.header_places),
        product=_told(zone.product for zone in plan.zones),
        tube=_told(header.tube for header in plan.headers),
    )


def _told(words: Any) -> str:
    return " / ".join(dict.fromkeys(words))


def plan_variant(
    variant: Variant, limits: SearchLimits | None = None, report: Callable[[Progress], None] | None = None
) -> Result:
    """Plan a variant; what keeps it from being planned becomes its status.

    Args:
        variant: the scenario to plan.
        limits: how long to search; to the proof unless given.
        report: told about progress, if given.
    """
    try:
        return result_of(design(variant.scenario, limits, report))
    except DripLayoutError as error:
        return Result("not planned", " ".join(str(error).split()), failed=error.exit_code)


def complete(
    asked: Sequence[Variant],
    known: Mapping[str, Result],
    plan_one: Callable[[int, Variant], Result],
    keep: Callable[[Mapping[str, Result]], None],
) -> dict[str, Result]:
    """Plan what is not known yet, one after the other.

    Args:
        asked: every variant.
        known: results of an earlier run under their keys.
        plan_one: plans the variant of this number, counted from 1.
        keep: given all results after each new one.

    Returns:
        All results under their keys, known ones included.
    """
    results = dict(known)
    for number, variant in enumerate(asked, start=1):
        if variant.key not in results:
            results[variant.key] = plan_one(number, variant)
            keep(results)
    return results


# ------------------------------------------------------------ keeping results


def results_to_json(results: Mapping[str, Result]) -> str:
    """Write results as JSON; those that failed with an error are left out, to be tried again."""
    kept = {key: dataclasses.asdict(result) for key, result in sorted(results.items()) if not result.failed}
    return json.dumps({"version": RESULTS_VERSION, "results": kept}, indent=1, ensure_ascii=False) + "\n"


def results_from_json(text: str, source: str) -> dict[str, Result]:
    """Read results of an earlier run.

    Args:
        text: content of the file.
        source: its name, for messages.

    Raises:
        ScenarioError: it is not a file of such results.
    """
    try:
        raw = json.loads(text)
        if raw["version"] != RESULTS_VERSION:
            raise ValueError(f"version {raw['version']}")
        return {str(key): Result(**values) for key, values in raw["results"].items()}
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        message = f"does not hold results of this program ({error}); delete it to begin anew"
        raise ScenarioError(source, [Problem("", message)]) from None
