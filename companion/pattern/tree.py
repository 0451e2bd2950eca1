"""Parses XML into a light tree, opening nothing outside the document.

The parser below is the standard library's expat without an external-entity
handler, so nothing external is ever opened (XML 1.0 section 4.4.3 lets a
non-validating reader skip it). Entities that the document itself declares are
expanded within the table's limits. Name spaces are resolved here, not by expat,
because drawings with an undeclared prefix are common and readable.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from companion.errors import PatternError
from companion.pattern.limits import Limits
from companion.pattern.quote import quoted
from companion.pattern.watchdog import check
from companion.sentence import sentence

SVG_NS = "http://www.w3.org/2000/svg"
XLINK_NS = "http://www.w3.org/1999/xlink"
XML_NS = "http://www.w3.org/XML/1998/namespace"
FREE_CHARS = 1_000_000


@dataclass(slots=True)
class Node:
    """One element."""

    tag: str
    """Local name when in the SVG name space (or in none); else ``{uri}name``."""
    attributes: dict[str, str]
    """By local name; ``href`` stands for ``xlink:href`` too; foreign ones left out."""
    parent: Node | None
    """None for the root."""
    line: int
    """Line of the start tag, from 1."""
    children: list[Node] = field(default_factory=list)
    """Child elements in order."""
    text: list[str] = field(default_factory=list)
    """Character data directly inside."""

    def get(self, name: str, default: str = "") -> str:
        """An attribute's value."""
        return self.attributes.get(name, default)

    @property
    def label(self) -> str:
        """How findings name it: element, id, line."""
        ident = quoted(self.attributes.get("id", ""))
        return (
            sentence("{tag} '{ident}' (line {line})", tag=self.tag, ident=ident, line=self.line)
            if ident
            else sentence("{tag} (line {line})", tag=self.tag, line=self.line)
        )


@dataclass(slots=True)
class Document:
    """A parsed file."""

    root: Node
    """The svg element."""
    by_id: dict[str, Node]
    """First element of each id."""
    in_svg_namespace: bool
    """False: the root has no or another name space."""
    skipped_entities: list[str]
    """Names of entities that would have to be fetched; left out."""


class _Builder:
    """Handlers that build the tree and count against the limits."""

    def __init__(self, limits: Limits, size: int, name: str) -> None:
        self.limits = limits
        self.name = name
        self.max_chars = FREE_CHARS + limits.expanded_ratio * size
        self.chars = 0
        self.elements = 0
        self.stack: list[Node] = []
        self.scopes: list[dict[str, str]] = [{"xml": XML_NS}]
        self.root: Node | None = None
        self.root_uri = ""
        self.by_id: dict[str, Node] = {}
        self.entities: dict[str, int] = {}
        self.skipped: list[str] = []
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.data
        self.parser.EntityDeclHandler = self.entity
        self.parser.SkippedEntityHandler = self.skip

    def count(self, chars: int) -> None:
        check()
        self.chars += chars
        if self.chars > self.max_chars:
            raise PatternError(
                "the drawing unfolds to far more than it holds",
                sentence("{name}: its entities expand without measure", name=self.name),
                "Save it again from a drawing program as plain SVG.",
            )

    def start(self, qname: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        if self.elements > self.limits.elements:
            raise PatternError(
                "the drawing has too many elements",
                sentence(
                    "{name} holds more than {elements:,}",
                    name=self.name,
                    elements=self.limits.elements,
                ),
                "Combine or simplify its paths in a drawing program.",
            )
        if len(self.stack) >= self.limits.depth:
            raise PatternError(
                "the drawing is nested too deep",
                sentence(
                    "{name}: more than {depth} groups inside one another, line {line}",
                    name=self.name,
                    depth=self.limits.depth,
                    line=self.parser.CurrentLineNumber,
                ),
                "Ungroup everything in a drawing program and save again.",
            )
        self.count(sum(len(k) + len(v) for k, v in attributes.items()))
        scope = self.scopes[-1]
        declared = {k[6:]: v for k, v in attributes.items() if k.startswith("xmlns:")}
        if "xmlns" in attributes:
            declared[""] = attributes["xmlns"]
        if declared:
            scope = {**scope, **declared}
        self.scopes.append(scope)
        parent = self.stack[-1] if self.stack else None
        node = Node(
            _element_name(qname, scope),
            _own_attributes(attributes, scope),
            parent,
            self.parser.CurrentLineNumber,
        )
        if parent is None:
            self.root = node
            self.root_uri = scope.get(qname.rpartition(":")[0], "")
        else:
            parent.children.append(node)
        ident = node.attributes.get("id")
        if ident:
            self.by_id.setdefault(ident, node)
        self.stack.append(node)

    def end(self, _qname: str) -> None:
        self.stack.pop()
        self.scopes.pop()

    def data(self, text: str) -> None:
        self.count(len(text))
        if self.stack:
            self.stack[-1].text.append(text)

    def entity(
        self,
        name: str,
        is_parameter: bool,
        value: str | None,
        _base: str | None,
        _system: str | None,
        _public: str | None,
        _notation: str | None,
    ) -> None:
        if value is None or is_parameter:
            return
        size = len(value)
        for part in value.split("&")[1:]:
            size += self.entities.get(part.split(";")[0], 0)
        self.entities[name] = size
        if size > self.limits.entity_chars:
            raise PatternError(
                "the drawing unfolds to far more than it holds",
                sentence(
                    "{name}: entity '{entity}' expands to {size:,} characters",
                    name=self.name,
                    entity=name,
                    size=size,
                ),
                "Save it again from a drawing program as plain SVG.",
            )

    def skip(self, name: str, is_parameter: bool) -> None:
        if not is_parameter:
            self.skipped.append(name)


def _element_name(qname: str, scope: dict[str, str]) -> str:
    prefix, _, local = qname.rpartition(":")
    uri = scope.get(prefix, "")
    if uri in ("", SVG_NS) and prefix in ("", "svg"):
        return local
    if uri == SVG_NS:
        return local
    return f"{{{uri or prefix}}}{local}"


def _own_attributes(attributes: dict[str, str], scope: dict[str, str]) -> dict[str, str]:
    own: dict[str, str] = {}
    linked = None
    for qname, value in attributes.items():
        if ":" not in qname:
            if qname != "xmlns":
                own[qname] = value
            continue
        prefix, _, local = qname.partition(":")
        uri = scope.get(prefix, "")
        if local == "href" and (uri == XLINK_NS or (not uri and prefix == "xlink")):
            linked = value
        elif prefix == "xml" and local == "id":
            own.setdefault("id", value)
        elif uri == SVG_NS:
            own.setdefault(local, value)
    if linked is not None:
        own.setdefault("href", linked)
    return own


def parse_document(data: bytes, name: str, limits: Limits) -> Document:
    """Parse an SVG file.

    Args:
        data: the plain bytes, any encoding that XML declares.
        name: how messages name the file.
        limits: the table.

    Raises:
        PatternError: broken XML with line and column, a root that is not svg, or
            a limit passed.
    """
    builder = _Builder(limits, len(data), name)
    try:
        builder.parser.Parse(data, True)
    except expat.ExpatError as error:
        raise PatternError(
            "the drawing's XML is broken",
            sentence(
                "{name}, line {lineno}, column {offset}: {code}",
                name=name,
                lineno=error.lineno,
                offset=error.offset + 1,
                code=expat.ErrorString(error.code),
            ),
            "Open and save it again in a drawing program, or mend that place in a text editor.",
        ) from error
    except (LookupError, ValueError, UnicodeError) as error:
        raise PatternError(
            "the drawing's letters cannot be read",
            sentence("{name}: {error}", name=name, error=error),
            "Save it as UTF-8.",
        ) from error
    root = builder.root
    if root is None or root.tag.rpartition("}")[2] != "svg":
        found = "nothing" if root is None else quoted(root.tag.rpartition("}")[2])
        raise PatternError(
            "the drawing is not SVG",
            sentence("{name} starts with <{found}>, not with <svg>", name=name, found=found),
            "Open it in a drawing program and save it as SVG.",
        )
    if root.tag != "svg":
        _adopt_foreign_namespace(root)
    return Document(root, builder.by_id, builder.root_uri == SVG_NS, builder.skipped)


def _adopt_foreign_namespace(root: Node) -> None:
    """Treat the root's own name space as SVG's, all the way down."""
    prefix = root.tag[: root.tag.rindex("}") + 1]
    todo = [root]
    while todo:
        node = todo.pop()
        if node.tag.startswith(prefix):
            node.tag = node.tag[len(prefix) :]
        todo.extend(node.children)
