"""What sheets are made of: paragraphs, tables, steps and pictures, free of any file format.

Every number is written into text once, here upwards; plain text, web page and PDF only lay the same text out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Column:
    """One column of a table."""

    title: str
    right: bool = False
    """numbers stand right"""


@dataclass(frozen=True)
class Table:
    """A table with a caption; `ticks` puts a box before every row that is to be done."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    ticks: bool = False
    key: int = 0
    """column that names the row"""
    notes: tuple[str, ...] = ()

    @property
    def short(self) -> bool:
        """Whether the rows stay on one page."""
        return len(self.rows) <= 14

    def __post_init__(self) -> None:
        """Refuse rows that do not fill the columns."""
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"table '{self.caption}': a row of {len(row)} for {len(self.columns)} columns")


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str
    strong: bool = False


@dataclass(frozen=True)
class Heading:
    """A heading inside a chapter."""

    text: str


@dataclass(frozen=True)
class Bullets:
    """Points in no order."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Steps:
    """Numbered steps, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Label:
    """A tag to cut out and stick on a piece."""

    big: str
    small: str


@dataclass(frozen=True)
class Labels:
    """Tags to cut out."""

    items: tuple[Label, ...]


@dataclass(frozen=True)
class Fill:
    """Lines to write on."""

    prompts: tuple[str, ...]


@dataclass(frozen=True)
class Sketch:
    """A small drawing set among the text; `paint` draws it into empty axes whose units are millimetres."""

    title: str
    description: str
    width_mm: float
    height_mm: float
    paint: Callable[[Axes], None]


@dataclass(frozen=True)
class Picture:
    """A drawing that takes a page of its own, made at its true size."""

    title: str
    description: str
    """what it shows, for those who cannot see it"""
    figure: Figure


Block = Paragraph | Heading | Bullets | Steps | Table | Labels | Fill | Sketch | Picture


@dataclass(frozen=True)
class Chapter:
    """A sheet of the field book."""

    id: str
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Book:
    """Everything to hold in the hand."""

    title: str
    lead: tuple[str, ...]
    chapters: tuple[Chapter, ...]
