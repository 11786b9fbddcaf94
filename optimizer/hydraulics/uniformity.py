"""How even the water comes out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats


def _flows(flows: npt.ArrayLike) -> FloatArray:
    q = floats(flows)
    if q.ndim != 1 or q.size == 0 or not np.all(np.isfinite(q)) or np.any(q < 0.0) or not np.any(q > 0.0):
        raise HydraulicError("uniformity needs a row of flows, none negative, not all zero")
    return q


def flow_variation(flows: npt.ArrayLike) -> float:
    """Flow variation (qmax - qmin) / qmax.

    Source: Wu and Gitlin 1974, from memory. Example: 3.6, 4.0 -> 0.1.

    Args:
        flows: emitter flows, shape (e,) [any]
    """
    q = _flows(flows)
    return float((q.max() - q.min()) / q.max())


def emission_uniformity(cv: float, emitters_per_plant: float, least_flow: float, mean_flow: float) -> float:
    """Design emission uniformity EU = 100 (1 - 1.27 Cv / sqrt n) qmin / qavg, in percent.

    Source: Keller and Karmeli 1974, Trans. ASAE 17(4). Example: 0.07, 4, 3.60, 4.00 -> 86.00.

    Args:
        cv: manufacturer's coefficient of variation [-]
        emitters_per_plant: emitters that share a plant, at least 1 [-]
        least_flow: least emitter flow from pressure alone [any]
        mean_flow: mean emitter flow [any]

    Raises:
        HydraulicError: when a value is out of range.
    """
    if not (0.0 <= cv < 0.787 and emitters_per_plant >= 1.0 and 0.0 <= least_flow <= mean_flow and mean_flow > 0.0):
        raise HydraulicError("EU needs 0 <= Cv < 0.787, one emitter or more per plant and 0 <= least <= mean flow")
    return float(100.0 * (1.0 - 1.27 * cv / np.sqrt(emitters_per_plant)) * least_flow / mean_flow)


def distribution_uniformity(flows: npt.ArrayLike) -> float:
    """Field low-quarter distribution uniformity, mean of the lowest quarter over the mean of all, in percent.

    The quarter is n / 4 rounded to the nearest whole number, halves up, and at least one reading.
    Source: function reference of G. Grabow, North Carolina State Univ. Example: see `tests/reference`.

    Args:
        flows: catches or flows, shape (e,) [any]
    """
    q = np.sort(_flows(flows))
    quarter = max(1, int(np.floor(q.size / 4 + 0.5)))
    return float(100.0 * q[:quarter].mean() / q.mean())


def christiansen_uniformity(flows: npt.ArrayLike) -> float:
    """Christiansen's coefficient CU = 100 (1 - mean absolute deviation / mean), in percent.

    Source: Christiansen 1942, Calif. Agric. Exp. Stn. Bull. 670, from memory. Example: 9, 11 -> 90.

    Args:
        flows: catches or flows, shape (e,) [any]
    """
    q = _flows(flows)
    return float(100.0 * (1.0 - np.mean(np.abs(q - q.mean())) / q.mean()))


def statistical_uniformity(flows: npt.ArrayLike) -> float:
    """Statistical uniformity Us = 100 (1 - standard deviation / mean), in percent; sample standard deviation.

    Source: Bralts, Wu and Gitlin 1981, from memory. Example: 9, 10, 11 -> 90.

    Args:
        flows: catches or flows, at least two, shape (e,) [any]
    """
    q = _flows(flows)
    if q.size < 2:
        raise HydraulicError("statistical uniformity needs two flows or more")
    return float(100.0 * (1.0 - q.std(ddof=1) / q.mean()))


def total_variation(cv_manufacture: float, cv_hydraulic: float) -> float:
    """Coefficient of variation of flows from make and pressure together, independent of each other.

    Source: Bralts, Wu and Gitlin 1981, from memory. Example: 0.03, 0.04 -> 0.05.

    Args:
        cv_manufacture: manufacturer's coefficient of variation [-]
        cv_hydraulic: coefficient of variation of the flows from pressure alone [-]
    """
    return float(np.hypot(cv_manufacture, cv_hydraulic))
