"""Drawings as the bytes of files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from matplotlib.figure import Figure

from optimizer.sheets.paper import PAPERS, Paper, save_drawing
from optimizer.units import System

ENDINGS = ("pdf", "svg", "png")


def paper_named(name: str | None, system: str) -> Paper:
    """Return a paper by its name; the usual one of the unit system unless a name is given."""
    usual = "Letter" if system == System.US else "A4"
    return next(paper for paper in PAPERS if paper.name == (name or usual))


def drawn_files(stem: str, figures: Sequence[Figure], endings: Sequence[str] = ENDINGS) -> dict[str, bytes]:
    """Return drawings as files.

    Args:
        stem: name of the files without ending; further pages get a number behind it.
        figures: the pages.
        endings: formats.
    """
    found = {}
    with TemporaryDirectory() as directory:
        for number, figure in enumerate(figures, start=1):
            page = stem if number == 1 else f"{stem}-{number}"
            for ending in endings:
                path = Path(directory) / f"{page}.{ending}"
                save_drawing(figure, path)
                found[path.name] = path.read_bytes()
    return found
