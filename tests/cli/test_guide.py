"""The guide: whole, with every picture, from the tables, and readable without a network."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from companion.cli.guide import guide_page
from companion.cli.main import main
from companion.draw.reasons import reason_svg
from companion.planner.practice import drawing
from companion.shop import practice
from companion.shop.finishing import rows
from companion.shop.reasons import pages
from companion.words import ENGLISH

VOID = {"meta", "link"}


class Seen(HTMLParser):
    """What a browser would find: text, ids, links, paths by picture; and that tags are closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.pictures: list[list[str]] = []
        self.feed(page)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "svg":
            self.pictures.append([])
        if tag == "path":
            self.pictures[-1].append(str(given["d"]))
        if "id" in given:
            self.ids.append(str(given["id"]))
        if "href" in given:
            self.links.append(str(given["href"]))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def paths(svg: str) -> list[str]:
    return re.findall(r'<path[^>]* ?\bd="([^"]+)"', svg)


def test_it_holds_every_reason_level_and_finishing_step_with_its_picture() -> None:
    seen = Seen(guide_page(ENGLISH))
    text = " ".join(" ".join(seen.text).split())
    for page in pages().values():
        for told in (page.title, page.why, page.caption, *page.text, page.source):
            assert " ".join(told.split()) in text, told
    for level in practice.levels():
        assert level.title in text and level.trains in text and level.judge in text
    for mark in practice.marks():
        assert mark.text in text
    for step in rows():
        assert step.say in text and step.why in text
    drawn = [reason_svg(key) for key in pages()] + [drawing(one) for one in practice.levels()]
    assert seen.pictures == [paths(svg) for svg in drawn]
    assert "fibre board; paint, varnish" in text and "with a hanger" in text
    assert "local codes" in text and "label" in text


def test_its_links_lead_somewhere_on_the_page_and_nothing_is_fetched() -> None:
    page = guide_page(ENGLISH)
    seen = Seen(page)
    assert len(seen.ids) == len(set(seen.ids))
    inner = [link for link in seen.links if link.startswith("#")]
    assert sorted(link[1:] for link in inner) == sorted(seen.ids)
    assert [link for link in seen.links if not link.startswith("#")] == ["data:,"]
    assert "http" not in page and "<script" not in page and "url(" not in page


def test_the_command_writes_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    to = tmp_path / "guide.html"
    assert main(["practice", "--guide", str(to)]) == 0
    assert str(to) in capsys.readouterr().out
    assert to.read_text(encoding="utf-8") == guide_page(ENGLISH)
    assert main(["practice", "--guide", str(tmp_path / "no" / "guide.html")]) == 2
