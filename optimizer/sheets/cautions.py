"""Cautions: what can hurt people, water or plants, with the plan's own pressures."""

from __future__ import annotations

from optimizer.plan import Plan
from optimizer.sheets.blocks import Block, Bullets, Paragraph
from optimizer.sheets.lists import display

_GENERAL = (
    "Drinking water: garden water must never run back into it. Fit the backflow device that your water supplier asks "
    "for before anything else; which one is right depends on heights, valves and whether fertiliser is added. If in "
    "doubt ask the supplier or a licensed plumber.",
    "Do not drink from this system, and do not let children or animals drink from it. Mark its taps and open ends. "
    "Water that has stood in warm tube is not clean.",
    "Tube in the sun: the water in it can scald. Let the first of it run away from hands and leaves.",
    "Mains electricity (pump, timer, controller): only a qualified person may connect it, with residual-current "
    "protection. Otherwise use batteries or safe low voltage.",
    "Tanks: a full one is very heavy (1000 L are a tonne, 55 gal more than 450 lb). Stand and ground must carry it; "
    "keep children off, lock the lid, screen it against mosquitoes.",
    "Tripping: bury, cover or stake every tube where people walk, and at every path crossing.",
    "Digging: ask where cables and pipes lie before you dig or drive stakes. Mowers, hoes and forks cut tube.",
    "Compressed air: blowing out with a compressor can burst tube and throw parts. Only with the regulator removed "
    "from the line, at low pressure, with eye protection and nobody near the ends; draining by hand is safer.",
    "Cutting and pushing: cut away from the body; water to soften tube ends is hot. Take your time with push fittings.",
    "Laws and rules of your place, the terms of your supplier and the judgement of licensed trades come before this "
    "sheet.",
)


def static_text(plan: Plan) -> str:
    """Say the greatest pressure the tubing can see, with all valves shut and while running."""
    shown = display(plan)
    static = max((zone.water.static_head_m for zone in plan.zones), default=0.0)
    running = max((zone.water.greatest_head_m for zone in plan.zones), default=0.0)
    return (
        f"Burst tube: with all valves shut behind the head parts the tubing can see {shown.pressure(static)}, running "
        f"at most {shown.pressure(running)}. Without the pressure regulator of the plan, or with a regulator that "
        "creeps, it is more and tube can burst. Open the water slowly; never leave the first run unwatched."
    )


def caution_items(plan: Plan) -> tuple[str, ...]:
    """Return the cautions, the most serious first."""
    return (*_GENERAL[:2], static_text(plan), *_GENERAL[2:])


def caution_blocks(plan: Plan) -> tuple[Block, ...]:
    """Return the cautions of the plan, and before them what was noticed about this garden."""
    noticed: tuple[Block, ...] = ()
    if plan.warnings:
        noticed = (Paragraph("Noticed about this garden:", strong=True), Bullets(plan.warnings))
    return (*noticed, Paragraph("Before you begin:", strong=True), Bullets(caution_items(plan)))
