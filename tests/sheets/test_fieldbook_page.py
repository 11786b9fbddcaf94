"""The field book as a web page: read back cell by cell, and held to what a page without script and network may hold."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from html.parser import HTMLParser

import pytest
from lists_plans import PLANS, allotment, backyard
from matplotlib.figure import Figure

from optimizer.plan import Plan
from optimizer.sheets.blocks import Picture
from optimizer.sheets.cutlist import cut_list_csv, labels
from optimizer.sheets.fieldbook import book_html, field_book
from optimizer.sheets.fieldbook.vector import inline_svg
from optimizer.sheets.markout import mark_out_csv
from optimizer.sheets.shopping import shopping_list_csv

_VOID = {"meta", "input", "br", "link", "img", "hr"}


class Page(HTMLParser):
    """Collects tables by caption, ids, references, tags and visible text; checks that tags are closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tables: dict[str, list[list[str]]] = {}
        self.heads: dict[str, list[str]] = {}
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.headings: list[int] = []
        self.words: list[str] = []
        self._open: list[str] = []
        self._caption = ""
        self._cell: list[str] | None = None
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in _VOID:
            self._open.append(tag)
        if tag in ("td", "th", "caption"):
            self._cell = []
        if tag == "tr" and "tbody" in self._open:
            self.tables[self._caption].append([])
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag
        if self._cell is None or tag not in ("td", "th", "caption"):
            return
        text = " ".join("".join(self._cell).split())
        if tag == "caption":
            self._caption = text
            self.tables[text], self.heads[text] = [], []
        elif "tbody" in self._open:
            self.tables[self._caption][-1].append(text)
        else:
            self.heads[self._caption].append(text)
        self._cell = None

    def handle_data(self, data: str) -> None:
        if "style" not in self._open:
            self.words.append(data)
        if self._cell is not None:
            self._cell.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.tags if name == tag]


def picture() -> Picture:
    figure = Figure(figsize=(4, 3))
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    axes.plot([0, 1], [0, 1], marker="o")
    return Picture("One-page plan", "A line rising from left to right.", figure)


@pytest.fixture(scope="module", params=sorted(PLANS))
def case(request: pytest.FixtureRequest) -> tuple[Plan, Page]:
    plan = PLANS[request.param]()
    return plan, Page(book_html(field_book(plan, {"plan": (picture(),)})))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_cut_list_on_the_page_is_the_cut_list_of_the_file(case: tuple[Plan, Page]) -> None:
    plan, page = case
    listed = rows(cut_list_csv(plan))
    for roll in plan.rolls:
        shown = next(table for caption, table in page.tables.items() if caption.startswith(f"Roll {roll.id}:"))
        mine = [row for row in listed if row["roll"] == roll.id and row["kind"] == "cut"]
        names = [f"{name}_{plan.unit_system}" for name in ("length", "mark", "left")]
        assert [row[2:5] for row in shown] == [[row[name] for name in names] for row in mine]
        assert [row[1] for row in shown] == [row["piece"] for row in mine]


def test_marks_on_the_page_are_the_marks_of_the_file(case: tuple[Plan, Page]) -> None:
    plan, page = case
    listed = rows(mark_out_csv(plan))
    own, other = ("metric", "us") if plan.unit_system == "metric" else ("us", "metric")
    for header in plan.headers:
        shown = next(table for caption, table in page.tables.items() if caption.startswith(f"Header {header.id},"))
        mine = [row for row in listed if row["header"] == header.id]
        wanted = [[row[f"distance_{own}"], row[f"distance_{other}"], row["side"], row["row"]] for row in mine]
        assert [row[1:5] for row in shown] == wanted


def test_costs_on_the_page_are_the_costs_of_the_file(case: tuple[Plan, Page]) -> None:
    plan, page = case
    shelves = [table for caption, table in page.tables.items() if caption.startswith("Shelf:")]
    listed = [row["cost"] for row in rows(shopping_list_csv(plan))]
    shown = [row[-1] for table in shelves for row in table]
    assert [text or "0.00" for text in shown] == listed
    assert f"{plan.goal('money') / 100:.2f} {plan.currency}" in "".join(page.words)


def test_every_tag_is_there(case: tuple[Plan, Page]) -> None:
    plan, page = case
    text = "".join(page.words)
    for tag, count in Counter(label.big for label in labels(plan)).items():
        assert text.count(tag) >= count


def test_page_needs_neither_script_nor_network(case: tuple[Plan, Page]) -> None:
    _, page = case
    assert not {"script", "link", "img", "iframe", "object", "embed", "form"} & {tag for tag, _ in page.tags}
    for tag, attributes in page.tags:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in ("href", "xlink:href", "src", "action", "data"):
                assert value.startswith("#"), (tag, value)
    policy = next(item["content"] for item in page.all("meta") if item.get("http-equiv") == "Content-Security-Policy")
    assert policy == "default-src 'none'; style-src 'unsafe-inline'"


def test_style_loads_nothing(case: tuple[Plan, Page]) -> None:
    text = book_html(field_book(allotment()))
    style = text[text.index("<style>") : text.index("</style>")]
    assert "url(" not in style
    assert "@import" not in style


def test_ids_are_unique_and_every_reference_has_its_target(case: tuple[Plan, Page]) -> None:
    _, page = case
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert [name for name, count in Counter(ids).items() if count > 1] == []
    wanted = {value[1:] for _, tag in page.tags for name, value in tag.items() if name in ("href", "xlink:href")}
    for _, tag in page.tags:
        wanted |= set(tag.get("aria-labelledby", "").split())
        wanted |= set(re.findall(r"url\(#([^)]+)\)", " ".join(tag.values())))
    assert wanted <= set(ids)


def test_landmarks_headings_and_tables_are_marked(case: tuple[Plan, Page]) -> None:
    plan, page = case
    for landmark in ("header", "nav", "main", "footer"):
        assert len(page.all(landmark)) == 1
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(page.headings, page.headings[1:], strict=False))
    assert len(page.all("caption")) == len(page.all("table"))
    assert all(head["scope"] in ("col", "row") for head in page.all("th"))
    for caption, table in page.tables.items():
        assert {len(row) for row in table} <= {len(page.heads[caption])}
    assert next(item for item in page.all("html"))["lang"] == "en"
    assert all(item["role"] == "img" for item in page.all("svg"))
    assert len(page.all("svg")) == 2 + len(plan.headers)
    assert plan.title in "".join(page.words)


def test_boxes_say_what_they_are_for(case: tuple[Plan, Page]) -> None:
    plan, page = case
    boxes = [item for item in page.all("input") if item["type"] == "checkbox"]
    assert len(boxes) >= len(plan.pieces) + sum(len(header.take_offs) for header in plan.headers)
    labels_open = page.all("label")
    assert len(labels_open) == len(boxes)
    text = "".join(page.words)
    for piece in plan.pieces:
        assert f"done: {piece.id}" in text


def test_words_of_the_user_cannot_become_markup() -> None:
    text = book_html(field_book(allotment()))
    assert "the <slanted> one" not in text
    assert "the &lt;slanted&gt; one &amp; its $5 tree" in text


def test_same_plan_gives_the_same_page() -> None:
    first = book_html(field_book(backyard(), {"plan": (picture(),)}))
    assert first == book_html(field_book(backyard(), {"plan": (picture(),)}))


def test_drawings_get_ids_of_their_own() -> None:
    svg = (
        '<?xml version="1.0"?>\n<!DOCTYPE svg>\n<svg width="9pt" viewBox="0 0 9 9" xmlns="x"><metadata>who</metadata>'
        '<defs><path id="a"/></defs><use xlink:href="#a"/><g clip-path="url(#a)" id="b"/></svg>'
    )
    text = inline_svg(svg, "d7", "T & U", "what <it> shows")
    assert text.startswith("<svg ")
    assert 'viewBox="0 0 9 9" role="img" aria-labelledby="d7-title d7-desc"' in text
    assert '<title id="d7-title">T &amp; U</title><desc id="d7-desc">what &lt;it&gt; shows</desc>' in text
    assert '<path id="d7-a"/>' in text
    assert '<use xlink:href="#d7-a"/><g clip-path="url(#d7-a)" id="d7-b"/>' in text
    assert "metadata" not in text


def test_a_picture_without_a_chapter_is_refused() -> None:
    with pytest.raises(ValueError, match="no chapter 'cover'"):
        field_book(backyard(), {"cover": (picture(),)})


def test_text_that_is_no_drawing_is_refused() -> None:
    with pytest.raises(ValueError, match="no SVG"):
        inline_svg("<p>", "d1", "t", "d")
