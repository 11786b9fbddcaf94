"""The field book in a real browser, where one is installed: phone width, colours, print."""

from __future__ import annotations

import base64
import json
import re
import shutil
import subprocess
from html import escape
from pathlib import Path

import pytest
from lists_plans import allotment, backyard
from pypdf import PdfReader

from optimizer.sheets.fieldbook import book_html, field_book, plan_pictures
from optimizer.sheets.paper import LETTER

_BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")

pytestmark = pytest.mark.skipif(_BROWSER is None, reason="no Chromium on this machine: the page is not rendered here")

_MEASURE = """
<script>
const luminance = (colour) => {
  const part = colour.match(/[\\d.]+/g).slice(0, 3).map((value) => value / 255)
    .map((value) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4));
  return 0.2126 * part[0] + 0.7152 * part[1] + 0.0722 * part[2];
};
const behind = (element) => {
  for (let at = element; at; at = at.parentElement) {
    const colour = getComputedStyle(at).backgroundColor;
    if (!/, 0\\)$/.test(colour) && colour !== 'transparent') return colour;
  }
  return 'rgb(255, 255, 255)';
};
const root = document.documentElement;
const found = { width: innerWidth, page: root.scrollWidth, least: 99, contrast: 99, box: 99, out: [] };
found.ground = luminance(getComputedStyle(document.body).backgroundColor);
for (const element of document.body.querySelectorAll('*')) {
  if (element.closest('svg') || element.tagName === 'SCRIPT') continue;
  const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
  const style = getComputedStyle(element), place = element.getBoundingClientRect();
  if (element.tagName === 'INPUT') found.box = Math.min(found.box, place.width, place.height);
  if (!own || style.display === 'none' || element.className === 'unseen' || place.width < 2) continue;
  found.least = Math.min(found.least, parseFloat(style.fontSize));
  const pair = [luminance(style.color), luminance(behind(element))].sort((a, b) => b - a);
  found.contrast = Math.min(found.contrast, (pair[0] + 0.05) / (pair[1] + 0.05));
  const outside = place.right > innerWidth + 1 || place.left < -1;
  if (element.className !== 'skip' && outside) found.out.push(element.outerHTML);
}
const text = btoa(unescape(encodeURIComponent(JSON.stringify(found))));
parent.document.body.innerHTML = '<pre id="found">' + text + '</pre>';
</script>
"""


def browse(*arguments: str) -> str:
    assert _BROWSER is not None
    command = [_BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return done.stdout


def measured(folder: Path, width: int, *arguments: str) -> dict[str, object]:
    """Return what a script finds in a copy of the page that is allowed to run it, in a frame of the given width."""
    page = book_html(field_book(allotment(), plan_pictures(allotment())))
    page = re.sub(r"<meta http-equiv[^>]*>", "", page).replace("</body>", f"{_MEASURE}</body>")
    frame = f'<iframe style="width:{width}px;height:900px;border:0" srcdoc="{escape(page)}"></iframe>'
    path = folder / "frame.html"
    path.write_text(f'<!DOCTYPE html><meta name="color-scheme" content="light dark"><body>{frame}', encoding="utf-8")
    dom = browse(*arguments, "--virtual-time-budget=5000", "--dump-dom", path.as_uri())
    match = re.search(r'<pre id="found">([^<]+)</pre>', dom)
    assert match is not None, dom[:500]
    answer: dict[str, object] = json.loads(base64.b64decode(match[1]))
    return answer


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_phone_shows_everything_in_one_column_large_and_clear(tmp_path: Path, scheme: str) -> None:
    # 7 : 1 is the enhanced contrast of WCAG 2.2, success criterion 1.4.6; 24 px the least target size of 2.5.8.
    setting = {"light": "1", "dark": "0"}[scheme]
    found = measured(tmp_path, 390, f"--blink-settings=preferredColorScheme={setting}")
    assert found["width"] == 390
    assert found["page"] == 390
    assert (float(str(found["ground"])) < 0.1) == (scheme == "dark")
    assert found["out"] == []
    assert float(str(found["least"])) >= 16.0
    assert float(str(found["contrast"])) >= 7.0
    assert float(str(found["box"])) >= 24.0


def test_print_is_not_shrunk_below_ten_points(tmp_path: Path) -> None:
    path, out = tmp_path / "book.html", tmp_path / "book.pdf"
    path.write_text(book_html(field_book(backyard(), plan_pictures(backyard(), LETTER))), encoding="utf-8")
    browse("--no-pdf-header-footer", f"--print-to-pdf={out}", path.as_uri())
    sizes: list[float] = []

    def visit(text: str, cm: list[float], tm: list[float], _: object, size: float) -> None:
        if text.strip():
            sizes.append(size * abs(tm[3] * cm[3]))

    reader = PdfReader(out)
    for page in reader.pages:
        page.extract_text(visitor_text=visit)
    assert len(sizes) > 200
    assert min(sizes) >= 10.0
    text = " ".join(reader.pages[0].extract_text().split())
    assert "Backyard behind the garage" in text
