"""Blocks cut into strips: full-width pieces of a page that are never broken, with what is printed on them."""

from __future__ import annotations

from dataclasses import replace

from optimizer.sheets.blocks import (
    Block,
    Bullets,
    Fill,
    Heading,
    Label,
    Labels,
    Paragraph,
    Picture,
    Sketch,
    Steps,
    Table,
)
from optimizer.sheets.fieldbook.grid import table_strips
from optimizer.sheets.fieldbook.marks import (
    BODY_PT,
    BOX_MM,
    LEAST_PT,
    Frame,
    Ink,
    Inset,
    Rule,
    Strip,
    Word,
    line_mm,
    set_lines,
)
from optimizer.sheets.fieldbook.measure import text_width, wrap

_TAGS_ACROSS = 3
_TAG_MM = 21.0
_TAG_PT = 15.0


def text_strips(
    text: str,
    width: float,
    *,
    indent: float = 0.0,
    mark: str = "",
    box: bool = False,
    bold: bool = False,
    size_pt: float = BODY_PT,
    after: float = 1.6,
) -> list[Strip]:
    """Set a paragraph, a point of a list or a step as one strip.

    Args:
        text: the words.
        width: of the page [mm].
        indent: where the text begins [mm].
        mark: what stands before its first line.
        box: a box to tick stands at the left edge.
        bold: heavy type.
        size_pt: type size [pt].
        after: space below [mm].
    """
    lines = wrap(text, width - indent, size_pt, bold=bold)
    words = set_lines(lines, indent, 0.0, size_pt, bold)
    inks: list[Ink] = [*words]
    if mark:
        inks.append(Word(indent - text_width(mark, size_pt, bold=True) - 1.5, words[0].y, mark, size_pt, True))
    if box:
        inks.append(Frame(0.0, 0.2, BOX_MM, BOX_MM))
    height = max(len(lines) * line_mm(size_pt), BOX_MM + 1.0 if box else 0.0)
    return [Strip(height + after, tuple(inks))]


def heading_strip(text: str, width: float, size_pt: float = 13.0) -> Strip:
    """Set a heading that stays with what follows."""
    lines = wrap(text, width, size_pt, bold=True)
    above = 2.5
    return Strip(above + len(lines) * line_mm(size_pt) + 1.0, tuple(set_lines(lines, 0.0, above, size_pt, True)), True)


def _steps(block: Steps, width: float) -> list[Strip]:
    return [
        strip
        for number, item in enumerate(block.items, start=1)
        for strip in text_strips(item, width, indent=16.0, mark=f"{number}.", box=True, after=2.4)
    ]


def _bullets(block: Bullets, width: float) -> list[Strip]:
    return [strip for item in block.items for strip in text_strips(item, width, indent=5.0, mark="-")]


def _fill(block: Fill, width: float) -> list[Strip]:
    def strip(prompt: str) -> Strip:
        lines = wrap(prompt, width * 0.6, BODY_PT)
        height = max(9.0, len(lines) * line_mm(BODY_PT) + 3.5)
        top = height - len(lines) * line_mm(BODY_PT) - 0.6
        return Strip(height, (*set_lines(lines, 0.0, top), Rule(width * 0.62, height - 1.0, width, height - 1.0)))

    found = [strip(prompt) for prompt in block.prompts]
    return [*(replace(each, with_next=True) for each in found[:-1]), *found[-1:]]


def _tag(tag: Label, x: float, width: float) -> list[Ink]:
    size = _TAG_PT
    while text_width(tag.big, size, bold=True) > width - 6.0 and size > LEAST_PT:
        size -= 0.5
    big = wrap(tag.big, width - 6.0, size, bold=True)
    small = wrap(tag.small, width - 6.0, LEAST_PT)
    below = 2.0 + len(big) * line_mm(size)
    return [
        Frame(x, 0.0, width, _TAG_MM, True, 0.5),
        *set_lines(big, x + 3.0, 1.6, size, True),
        *set_lines(small[:2], x + 3.0, below, LEAST_PT),
    ]


def _tags(block: Labels, width: float) -> list[Strip]:
    across = width / _TAGS_ACROSS
    rows = [block.items[start : start + _TAGS_ACROSS] for start in range(0, len(block.items), _TAGS_ACROSS)]
    return [
        Strip(_TAG_MM, tuple(ink for place, tag in enumerate(row) for ink in _tag(tag, place * across, across)))
        for row in rows
    ]


def _table(table: Table, width: float) -> list[Strip]:
    notes = [strip for note in table.notes for strip in text_strips(note, width, after=0.6)]
    return [*table_strips(table, width), Strip(1.2), *notes, Strip(2.0)]


def _sketch(sketch: Sketch, width: float) -> list[Strip]:
    title = [replace(strip, with_next=True) for strip in text_strips(sketch.title, width, bold=True)]
    return [*title, Strip(sketch.height_mm + 4.0, (Inset(0.0, 1.0, sketch),))]


def strips(block: Block, width: float) -> list[Strip]:
    """Cut a block into strips.

    Args:
        block: anything but a picture, which takes a page of its own.
        width: of the page within its margins [mm].

    Raises:
        TypeError: a picture.
    """
    match block:
        case Paragraph():
            return text_strips(block.text, width, bold=block.strong)
        case Heading():
            return [heading_strip(block.text, width)]
        case Bullets():
            return _bullets(block, width)
        case Steps():
            return _steps(block, width)
        case Fill():
            return _fill(block, width)
        case Labels():
            return _tags(block, width)
        case Table():
            return _table(block, width)
        case Sketch():
            return _sketch(block, width)
        case Picture():
            raise TypeError("a picture takes a page of its own")
