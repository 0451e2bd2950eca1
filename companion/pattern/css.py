"""Style sheets: tinycss2 reads them, this module matches selectors to elements.

Kept: type, class, id, attribute and universal selectors, all four combinators,
``:first-child``, ``:last-child``, ``:root``; ``!important``; media rules for all,
print and screen. A selector beyond these is skipped and named.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import tinycss2

from companion.pattern.budget import Budget
from companion.pattern.tree import Node
from companion.sentence import sentence

Declarations = tuple[tuple[str, str, bool], ...]
"""Property name (lower case), value, whether important."""
Test = Callable[[Node], bool]
PLAIN_URL = re.compile(r"url\(#[^()\"';\\]*\)")
NOT_PLAIN = re.compile(r"[\"'(){}\[\]\\/@<]|-->")
"""With none of these a semicolon always ends a declaration, and drawings repeat few
declarations many times, so that each is parsed once."""
MEDIA = {"all", "print", "screen"}
MAX_RULES = 20_000


@dataclass(frozen=True, slots=True)
class Compound:
    """Simple selectors that hold for one element."""

    tests: tuple[Test, ...]
    """All must hold."""
    key: str
    """Rightmost id (``#x``), class (``.x``) or type, for the index; ``*`` for any."""
    weight: tuple[int, int, int]
    """Specificity: ids, classes and attributes, types (Selectors 4 section 17)."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One selector with its declarations."""

    compounds: tuple[Compound, ...]
    """From left to right."""
    combinators: tuple[str, ...]
    """Between them: space, ``>``, ``+``, ``~``."""
    declarations: Declarations
    """What it sets."""
    weight: tuple[int, int, int]
    """Sum over the compounds."""
    order: int
    """Place in the sheet."""


@lru_cache(maxsize=8192)
def parse_declarations(text: str) -> Declarations:
    """Read a style attribute.

    >>> parse_declarations("fill: red; stroke:none !important; junk")
    (('fill', 'red', False), ('stroke', 'none', True))
    """
    if not NOT_PLAIN.search(PLAIN_URL.sub("", text)):
        return tuple(d for part in text.split(";") for d in _parsed(part))
    return _parsed(text)


@lru_cache(maxsize=8192)
def _parsed(text: str) -> Declarations:
    try:
        return _declarations(tinycss2.parse_blocks_contents(text, skip_comments=True))
    except RecursionError:
        return ()


def _declarations(nodes: list[object]) -> Declarations:
    found = []
    for node in nodes:
        if getattr(node, "type", "") == "declaration":
            value = tinycss2.serialize(node.value).strip()  # type: ignore[attr-defined]
            found.append((node.lower_name, value, bool(node.important)))  # type: ignore[attr-defined]
    return tuple(found)


class StyleSheet:
    """All rules of a drawing, indexed by their rightmost selector."""

    def __init__(self, texts: list[str], work: Budget) -> None:
        self.work = work
        self.index: dict[str, list[Rule]] = {}
        self.skipped: list[str] = []
        self.count = 0
        for text in texts:
            try:
                self._add(tinycss2.parse_stylesheet(text, True, True))
            except RecursionError:
                self.skipped.append(sentence("rules nested too deep"))

    def _add(self, nodes: list[object]) -> None:
        for node in nodes:
            kind = getattr(node, "type", "")
            if kind == "qualified-rule":
                self._add_rule(node)
            elif kind == "at-rule":
                self._add_at_rule(node)
            elif kind == "error":
                self.skipped.append(sentence("a rule that is not CSS"))

    def _add_at_rule(self, node: object) -> None:
        name = node.lower_at_keyword  # type: ignore[attr-defined]
        if name == "media" and node.content is not None:  # type: ignore[attr-defined]
            query = tinycss2.serialize(node.prelude).lower()  # type: ignore[attr-defined]
            if MEDIA & {part.strip() for part in query.split(",")} or not query.strip():
                self._add(tinycss2.parse_rule_list(node.content, True, True))  # type: ignore[attr-defined]
                return
            self.skipped.append(f"@media {query.strip()[:40]}")
        elif name not in ("font-face", "charset", "namespace", "keyframes"):
            self.skipped.append(f"@{name}")

    def _add_rule(self, node: object) -> None:
        declared = _declarations(
            tinycss2.parse_blocks_contents(node.content, skip_comments=True)  # type: ignore[attr-defined]
        )
        if not declared:
            return
        for tokens in _split_commas(node.prelude):  # type: ignore[attr-defined]
            self.count += 1
            parsed = _selector(tokens) if self.count <= MAX_RULES else None
            if parsed is None:
                self.skipped.append(tinycss2.serialize(tokens).strip()[:40])
                continue
            compounds, combinators = parsed
            weights = [c.weight for c in compounds]
            weight = (
                sum(w[0] for w in weights),
                sum(w[1] for w in weights),
                sum(w[2] for w in weights),
            )
            rule = Rule(compounds, combinators, declared, weight, self.count)
            self.index.setdefault(compounds[-1].key, []).append(rule)

    def declarations(self, node: Node) -> Iterator[tuple[str, str, bool]]:
        """What the sheet sets on an element, weakest first."""
        if not self.index:
            return
        keys = ["*", node.tag, "#" + node.get("id")]
        keys += ["." + name for name in node.get("class").split()]
        hits = [
            rule
            for key in dict.fromkeys(keys)
            for rule in self.index.get(key, ())
            if _matches(rule, len(rule.compounds) - 1, node, self.work)
        ]
        hits.sort(key=lambda r: (r.weight, r.order))
        for rule in hits:
            yield from rule.declarations


def _matches(rule: Rule, i: int, node: Node, work: Budget) -> bool:
    work.take(1)
    if not all(test(node) for test in rule.compounds[i].tests):
        return False
    if i == 0:
        return True
    how = rule.combinators[i - 1]
    if how == ">":
        return node.parent is not None and _matches(rule, i - 1, node.parent, work)
    if how == " ":
        above = node.parent
        while above is not None:
            if _matches(rule, i - 1, above, work):
                return True
            above = above.parent
        return False
    if node.parent is None:
        return False
    before = node.parent.children[: _place(node)]
    work.take(len(before))
    if how == "+":
        return bool(before) and _matches(rule, i - 1, before[-1], work)
    return any(_matches(rule, i - 1, other, work) for other in before)


def _place(node: Node) -> int:
    assert node.parent is not None
    return next(i for i, child in enumerate(node.parent.children) if child is node)


def _split_commas(tokens: list[object]) -> list[list[object]]:
    parts: list[list[object]] = [[]]
    for token in tokens:
        if token == ",":
            parts.append([])
        else:
            parts[-1].append(token)
    return parts


def _selector(tokens: list[object]) -> tuple[tuple[Compound, ...], tuple[str, ...]] | None:
    """Compounds and combinators; None when something is beyond this module."""
    groups: list[list[object]] = [[]]
    combinators: list[str] = []
    pending = ""
    for token in tokens:
        kind = getattr(token, "type", "")
        if kind == "comment":
            continue
        mark = " " if kind == "whitespace" else ""
        if kind == "literal" and getattr(token, "value", "") in (">", "+", "~"):
            mark = token.value  # type: ignore[attr-defined]
        if mark:
            pending = mark if mark != " " or not pending else pending
            continue
        if pending and groups[-1]:
            combinators.append(pending)
            groups.append([])
        elif pending.strip():
            return None
        pending = ""
        groups[-1].append(token)
    if pending.strip() or len(groups) > 32:
        return None
    compounds = [_compound(group) for group in groups]
    if any(c is None for c in compounds):
        return None
    return tuple(c for c in compounds if c is not None), tuple(combinators)


def _compound(tokens: list[object]) -> Compound | None:
    tests: list[Test] = []
    key, ids, classes, types = "*", 0, 0, 0
    i = 0
    if not tokens:
        return None
    while i < len(tokens):
        token = tokens[i]
        kind = getattr(token, "type", "")
        value = getattr(token, "value", "")
        if kind == "ident" and i == 0:
            tests.append(_is_type(value))
            key, types = value, types + 1
        elif kind == "literal" and value == "*" and i == 0:
            pass
        elif kind == "hash":
            tests.append(_has_id(value))
            key, ids = "#" + value, ids + 1
        elif kind == "literal" and value == "." and i + 1 < len(tokens):
            i += 1
            name = str(getattr(tokens[i], "value", ""))
            tests.append(_has_class(name))
            key = key if key.startswith("#") else "." + name
            classes += 1
        elif kind == "[] block":
            test = _attribute(token.content)  # type: ignore[attr-defined]
            if test is None:
                return None
            tests.append(test)
            classes += 1
        elif kind == "literal" and value == ":" and i + 1 < len(tokens):
            i += 1
            pseudo = _PSEUDO.get(str(getattr(tokens[i], "value", "")).lower())
            if pseudo is None:
                return None
            tests.append(pseudo)
            classes += 1
        else:
            return None
        i += 1
    return Compound(tuple(tests), key, (ids, classes, types))


def _is_type(name: str) -> Test:
    return lambda node: node.tag == name


def _has_id(name: str) -> Test:
    return lambda node: node.get("id") == name


def _has_class(name: str) -> Test:
    return lambda node: name in node.get("class").split()


_PSEUDO: dict[str, Test] = {
    "root": lambda node: node.parent is None,
    "first-child": lambda node: node.parent is not None and node.parent.children[0] is node,
    "last-child": lambda node: node.parent is not None and node.parent.children[-1] is node,
}


def _attribute(tokens: list[object]) -> Test | None:
    """An attribute selector: presence, =, ~=, |=, ^=, $=, *=."""
    parts = [t for t in tokens if getattr(t, "type", "") not in ("whitespace", "comment")]
    if not parts or getattr(parts[0], "type", "") != "ident":
        return None
    name = str(parts[0].value)  # type: ignore[attr-defined]
    if len(parts) == 1:
        return lambda node: name in node.attributes
    how = "".join(str(getattr(t, "value", "?")) for t in parts[1:-1])
    want = str(getattr(parts[-1], "value", ""))
    if getattr(parts[-1], "type", "") not in ("ident", "string"):
        return None
    compare: dict[str, Callable[[str], bool]] = {
        "=": lambda have: have == want,
        "~=": lambda have: want in have.split(),
        "|=": lambda have: have == want or have.startswith(want + "-"),
        "^=": lambda have: bool(want) and have.startswith(want),
        "$=": lambda have: bool(want) and have.endswith(want),
        "*=": lambda have: bool(want) and want in have,
    }
    check = compare.get(how)
    if check is None:
        return None
    return lambda node: name in node.attributes and check(node.attributes[name])
