"""The guide: reasons, practice levels and finishing as one page, to read or to print for a class.

Everything on it comes from the same tables and drawings as the screen and the plan, so it
cannot tell anything else than they do. It needs no network and no script.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence

from companion.draw.reasons import reason_svg
from companion.planner.practice import drawing
from companion.shop import practice, tables
from companion.shop.finishing import DRESSED, rows
from companion.shop.model import FinishStep
from companion.shop.reasons import pages
from companion.words import Words

STYLE = """
:root { color-scheme: light dark; --page: #fff; --ink: #1b1b1b; --rule: #999; }
@media (prefers-color-scheme: dark) { :root { --page: #151617; --ink: #ececec; --rule: #777; } }
body { margin: 0; background: var(--page); color: var(--ink);
  font: 16px/1.5 system-ui, sans-serif; }
main { max-width: 46rem; margin: 0 auto; padding: 1.5rem; }
a { color: inherit; }
h2 { margin-top: 2.5rem; border-bottom: 2px solid var(--rule); }
h2, h3 { break-after: avoid; }
article, tr { break-inside: avoid; }
article { margin: 1.5rem 0 2rem; }
.why { font-weight: 600; }
.contents { columns: 2; }
figure { margin: .8rem 0; }
svg { width: 100%; max-width: 26rem; max-height: 24rem; height: auto; padding: .5rem;
  background: #fff; border: 1px solid var(--rule); }
figcaption, .source { font-size: .9rem; }
table { border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .25rem .7rem .25rem 0;
  border-bottom: 1px solid var(--rule); }
@media print {
  body { font-size: 10pt; }
  main { max-width: none; padding: 0; }
  article { margin: 1rem 0; }
  svg { max-width: 7cm; max-height: 6cm; border: 0; }
}
"""


def guide_page(words: Words) -> str:
    """The whole page, HTML.

    Args:
        words: the language, as far as the tables speak it.
    """
    say = words.say
    title = say("Guide to sawing and finishing")
    root, body = _document(title, words)
    _put(body, "p", say("The saw's manual, local codes and licensed practice come first."), "why")
    contents = ET.SubElement(body, "ul", {"class": "contents"})
    _reasons(_part(body, contents, "reasons", say("Why it is done so")), contents, words)
    _levels(_part(body, contents, "levels", say("Practice, level by level")), words)
    _finishing(_part(body, contents, "finishing", say("Finishing")), words)
    return "<!DOCTYPE html>\n" + ET.tostring(root, encoding="unicode", method="html")


def _document(title: str, words: Words) -> tuple[ET.Element, ET.Element]:
    root = ET.Element("html", {"lang": words.language})
    head = ET.SubElement(root, "head")
    ET.SubElement(head, "meta", {"charset": "utf-8"})
    ET.SubElement(head, "meta", {"name": "viewport", "content": "width=device-width"})
    _put(head, "title", title)
    # an empty picture: else a browser would go and ask for one
    ET.SubElement(head, "link", {"rel": "icon", "href": "data:,"})
    _put(head, "style", STYLE)
    body = ET.SubElement(ET.SubElement(root, "body"), "main")
    _put(body, "h1", title)
    return root, body


def _put(parent: ET.Element, tag: str, text: str, css: str = "") -> ET.Element:
    made = ET.SubElement(parent, tag, {"class": css} if css else {})
    made.text = text
    return made


def _part(body: ET.Element, contents: ET.Element, key: str, title: str) -> ET.Element:
    _link(contents, key, title)
    part = ET.SubElement(body, "section", {"id": key})
    _put(part, "h2", title)
    return part


def _link(contents: ET.Element, key: str, title: str) -> None:
    ET.SubElement(ET.SubElement(contents, "li"), "a", {"href": f"#{key}"}).text = title


def _picture(parent: ET.Element, svg: str, title: str, caption: str = "") -> None:
    """Put a picture into the page itself, under the page's own title for it.

    The names inside are left out: a page may bear each only once.
    """
    drawn = ET.fromstring(svg)
    for element in drawn.iter():
        element.tag = element.tag.split("}")[-1]
        element.attrib.pop("id", None)
        if element.tag == "title":
            element.text = title
    for size in ("width", "height"):
        drawn.attrib.pop(size, None)
    drawn.set("role", "img")
    figure = ET.SubElement(parent, "figure")
    figure.append(drawn)
    if caption:
        _put(figure, "figcaption", caption)


def _reasons(part: ET.Element, contents: ET.Element, words: Words) -> None:
    say = words.say
    for key, page in pages().items():
        _link(contents, f"why-{key}", say(page.title))
        article = ET.SubElement(part, "article", {"id": f"why-{key}"})
        _put(article, "h3", say(page.title))
        _put(article, "p", say(page.why), "why")
        _picture(article, reason_svg(key), say(page.title), say(page.caption))
        for paragraph in page.text:
            _put(article, "p", say(paragraph))
        _put(article, "p", say("Source: {source}.", source=page.source), "source")


def _levels(part: ET.Element, words: Words) -> None:
    say = words.say
    _put(part, "p", say("Mark the worst place:"))
    scale = ET.SubElement(part, "ol", {"start": "0"})
    for mark in practice.marks():
        _put(scale, "li", say(mark.text))
    for level in practice.levels():
        article = ET.SubElement(part, "article")
        _put(article, "h3", f"{level.number}. {say(level.title)}")
        _picture(article, drawing(level), say(level.title))
        _put(article, "p", say("Trains: {text}", text=say(level.trains)))
        _put(article, "p", say("Judge: {text}", text=say(level.judge)))
        _put(article, "p", say("Write it: kerfside practice {key} -o FOLDER", key=level.key))


def _finishing(part: ET.Element, words: Words) -> None:
    say = words.say
    _put(part, "p", say("In this order. The tin's own label comes before any time told here."))
    table = ET.SubElement(part, "table")
    head = ET.SubElement(ET.SubElement(table, "thead"), "tr")
    for name in (say("do"), say("for"), say("why"), say("wait")):
        _put(head, "th", name)
    body = ET.SubElement(table, "tbody")
    for step in rows():
        line = ET.SubElement(body, "tr")
        wait = say("{n} min", n=f"{step.wait_min:g}") if step.wait_min else ""
        for cell in (say(step.say), _for(step, words), say(step.why), wait):
            _put(line, "td", cell)


def _for(step: FinishStep, words: Words) -> str:
    """For which boards, finishes and wishes a step is; empty: for all."""
    say = words.say
    names = {
        "fibre": say("fibre board"), "plywood": say("plywood"), "hardwood": say("hardwood"),
        "softwood": say("softwood"), "paint": say("paint"),
        "varnish": say("varnish"), "oil": say("oil"), "none": say("no coat"),
        "raw": say("left raw"), "stack": say("from a stack"), "openings": say("with openings"),
        "hanging": say("with a hanger"), "backing": say("with a backing"),
    }  # fmt: skip

    def some(of: Sequence[str], every: Sequence[str]) -> list[str]:
        return [] if set(every) <= set(of) else [names[one] for one in of]

    parts = [some(step.families, tables.FAMILIES), some(step.coats, DRESSED)]
    parts.append([names[step.needs]] if step.needs else [])
    return "; ".join(", ".join(part) for part in parts if part)
