"""Rules of the trade for head loss, for hand checks and comparison; the program itself uses `friction`."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats

PLASTIC_K = 7.89e7
"""K of the small plastic pipe formula in m per 100 m, L/s and mm (Keller and Bliesner 1990, from memory)."""

_GPM_M3_S = 3.785411784e-3 / 60.0
_PSI_PER_FT = 0.70307 / 0.3048
_INCH_M = 0.0254


def plastic_pipe_loss(flow: npt.ArrayLike, length: npt.ArrayLike, bore: npt.ArrayLike) -> FloatArray:
    """Head loss in smooth plastic pipe under 125 mm near 20 C, J = 7.89e7 Q^1.75 / D^4.75 (m/100 m, L/s, mm).

    Source: Keller and Bliesner 1990, Sprinkle and Trickle Irrigation, eq. 8.7a, from memory.
    Example: 0.1 L/s in 16 mm -> 2.676 m per 100 m.

    Args:
        flow: flow, not negative [m3/s]
        length: pipe length [m]
        bore: inner diameter [m]
    """
    return floats(PLASTIC_K * (1e3 * floats(flow)) ** 1.75 / (1e3 * floats(bore)) ** 4.75 * floats(length) / 100.0)


def blasius_factor(reynolds: npt.ArrayLike) -> FloatArray:
    """Blasius' friction factor of smooth pipe, 0.3164 Re^-0.25, for Re 4000 to 1e5.

    Source: Blasius 1913. Example: Re 1e4 -> 0.03164.

    Args:
        reynolds: Reynolds number [-]
    """
    return floats(0.3164 * floats(reynolds) ** -0.25)


def hazen_williams_loss(
    flow: npt.ArrayLike, length: npt.ArrayLike, bore: npt.ArrayLike, c: npt.ArrayLike
) -> FloatArray:
    """Head loss by Hazen and Williams, psi/ft = 4.52 Q^1.85 / (C^1.85 d^4.87) in gpm and inches.

    8 to 25 % under the plastic pipe formula for drip tubes with C 150: never a safe default there.
    Source: NFPA 13. Example: 8 gpm in 1/2 in, C 140, 100 ft -> 60 psi.

    Args:
        flow: flow, not negative [m3/s]
        length: pipe length [m]
        bore: inner diameter [m]
        c: Hazen-Williams coefficient [-]
    """
    per_length = 4.52 * (floats(flow) / _GPM_M3_S / floats(c)) ** 1.85 / (floats(bore) / _INCH_M) ** 4.87
    return floats(_PSI_PER_FT * per_length * floats(length))


def hazen_williams_flow(
    drop: npt.ArrayLike, length: npt.ArrayLike, bore: npt.ArrayLike, c: npt.ArrayLike
) -> FloatArray:
    """Flow that loses a head by Hazen and Williams; `hazen_williams_loss` the other way round.

    Source: NFPA 13. Example: 60 psi over 100 ft of 1/2 in hose, C 140 -> 8 gpm.

    Args:
        drop: head to lose, not negative [m]
        length: pipe length [m]
        bore: inner diameter [m]
        c: Hazen-Williams coefficient [-]
    """
    unit = hazen_williams_loss(_GPM_M3_S, length, bore, c)
    return floats(_GPM_M3_S * (floats(drop) / unit) ** (1.0 / 1.85))


def outlets_factor(count: int, exponent: float, first_share: float = 1.0) -> float:
    """Head loss of a line with equal outlets over that of the same line with all its flow to the end.

    The sum over the pieces that Christiansen's formula approximates; with the first outlet at half a spacing it is
    the factor of Jensen and Fratini.
    Source: Christiansen 1942; Jensen and Fratini 1957. Example: 10, 1.75 -> 0.415; half spacing 0.384.

    Args:
        count: number of outlets, evenly spaced, the last at the end [-]
        exponent: exponent of flow in the friction law [-]
        first_share: distance to the first outlet over the spacing [-]

    Raises:
        HydraulicError: when the count or the share is not positive.
    """
    if count < 1 or not first_share > 0.0:
        raise HydraulicError(f"a line needs an outlet and a way to it, got {count} outlets, share {first_share}")
    pieces = np.ones(count)
    pieces[0] = first_share
    flow_share = np.arange(count, 0, -1) / count
    return float(np.sum(pieces * flow_share**exponent) / np.sum(pieces))


def christiansen_factor(count: int, exponent: float) -> float:
    """Christiansen's formula F = 1/(m+1) + 1/(2N) + sqrt(m-1)/(6 N^2), close to `outlets_factor`.

    Source: Christiansen 1942, Calif. Agric. Exp. Stn. Bull. 670. Example: 10, 1.852 -> 0.402.

    Args:
        count: number of outlets, at least 1 [-]
        exponent: exponent of flow in the friction law, 1 or more [-]
    """
    return float(1.0 / (exponent + 1.0) + 0.5 / count + np.sqrt(exponent - 1.0) / (6.0 * count**2))
