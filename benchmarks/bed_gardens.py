"""Invented gardens of many beds for benchmarks, as scenario texts."""

from __future__ import annotations

from dataclasses import dataclass

_STOCK = """
[[emitter_lines]]
name = "dripline 33 cm"
bore = "13.8 mm"
spacing = "33 cm"
flow = "{flow}"
at_pressure = "1.0 bar"
exponent = 0.48
greatest_pressure = "3.0 bar"
rolls = [{{ length = "25 m", price = 21.00 }}, {{ length = "100 m", price = 57.00 }}]

[[blank_tubes]]
name = "tube 20 mm"
bore = "17.4 mm"
greatest_pressure = "4 bar"
rolls = [{{ length = "25 m", price = 19.00 }}, {{ length = "100 m", price = 62.00 }}]
"""

_THIN = """
[[blank_tubes]]
name = "tube 16 mm"
bore = "13.6 mm"
greatest_pressure = "4 bar"
rolls = [{ length = "25 m", price = 12.00 }]
"""

_CROPS = (("tomato", "40 cm"), ("lettuce", "30 cm"), ("onion", "30 cm"))


@dataclass(frozen=True)
class BedGarden:
    """A garden of equal beds in lines, with a wheelbarrow path across the middle.

    Args:
        name: in words.
        across: beds side by side.
        up: lines of beds.
        raised: height of the beds, empty for level ones.
        free: whether rows may run along or across each bed.
        flow: of an emitter.
        thin: whether there is a thinner tube as well.
    """

    name: str
    across: int
    up: int
    raised: str = "25 cm"
    free: bool = False
    flow: str = "1.0 L/h"
    thin: bool = False

    @property
    def text(self) -> str:
        """The garden as a scenario."""
        width, length, path = 1.2, 4.0, 0.7
        wide, deep = self.across * (width + path), self.up * (length + path)
        lines = [
            f'title = "{self.name}"',
            'units = "metric"',
            f'[site]\nrectangle = "{wide + 3.5:.2f} m x {deep + 3.5:.2f} m"\nat = "-2 m, -2 m"',
            '[supply]\nkind = "tap"\nat = "-1.2 m, -1.2 m"\nstatic_pressure = "3 bar"\nopen_flow = "10 L in 14 s"',
            '[[supply.regulators]]\nname = "regulator 1 bar"\nholds = "1.0 bar"\nprice = 13.50',
            f'[[paths]]\nname = "barrow path"\nrectangle = "{wide:.2f} m x {path - 0.1:.2f} m"\n'
            f'at = "0 m, {(self.up // 2) * (length + path) - path + 0.05:.2f} m"',
        ]
        for number in range(self.across * self.up):
            row, column = divmod(number, self.across)
            crop, spacing = _CROPS[(row + column) % len(_CROPS)]
            lines += [
                f'[[beds]]\nname = "bed {number + 1}"\nrectangle = "{width} m x {length} m"',
                f'at = "{column * (width + path):.2f} m, {row * (length + path):.2f} m"',
                *([f'raised = "{self.raised}"'] if self.raised else []),
                *([] if self.free else ['directions = ["along"]']),
                f'[[beds.crops]]\nname = "{crop}"\nrow_spacing = "{spacing}"\nfill = true',
            ]
        return "\n".join([*lines, _STOCK.format(flow=self.flow), *([_THIN] if self.thin else [])])


SIX = (
    BedGarden("6 framed beds, two tubes", 3, 2, flow="1.6 L/h", thin=True),
    BedGarden("6 framed beds, rows along or across, two tubes", 3, 2, flow="1.6 L/h", free=True, thin=True),
)
THIRTY = (
    BedGarden("30 framed beds, one zone", 6, 5),
    BedGarden("30 framed beds, two tubes", 6, 5, thin=True),
    BedGarden("30 level beds that may share headers", 6, 5, raised="", flow="1.6 L/h"),
    BedGarden("30 framed beds, several zones", 6, 5, flow="1.6 L/h"),
    BedGarden("30 framed beds, several zones, two tubes", 6, 5, flow="1.6 L/h", thin=True),
)
