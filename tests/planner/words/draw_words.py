"""Writes words.json from font files: outlines of words in openly licensed fonts.

Run once by hand, ``python draw_words.py FOLDER`` with the fonts named below somewhere
under FOLDER; the tests read only words.json. All fonts are under the SIL Open Font
License, which leaves drawings made with a font free.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

FONTS = {
    "Kristi": ("Kristi.ttf", "thin script", ["Harbour", "Lantern", "Biscuit"]),
    "Ecolier": ("Ecolier-court.ttf", "thin script", ["Welcome", "Heather", "Sailing"]),
    "Great Vibes": ("great-vibes-latin-400-normal.woff", "thin script",
                    ["Marlene", "Quayside", "Blossom"]),
    "Sacramento": ("sacramento-latin-400-normal.woff", "thin script",
                   ["Morning", "Thistle", "Juniper"]),
    "Parisienne": ("parisienne-latin-400-normal.woff", "script",
                   ["Fiddler", "Orchard", "Windmill"]),
    "Dancing Script": ("DancingScript-Regular.otf", "script", ["Kitchen", "Sawdust", "Meadows"]),
    "Kaushan Script": ("KaushanScript-Regular.otf", "script", ["Herring", "Anchors", "Ropewalk"]),
    "Lobster Two": ("LobsterTwo-Regular.otf", "script", ["Lighter", "Pottery", "Seagull"]),
    "Blankenburg": ("Blankenburg_UNZ1A.ttf", "blackletter", ["Backstube", "Wirtin", "Gasthof"]),
    "Gamaliel": ("Gamaliel.ttf", "blackletter", ["Hofgut", "Kantor", "Mondschein"]),
    "UnifrakturCook": ("unifrakturcook-latin-700-normal.woff", "blackletter",
                       ["Chandler", "Brewery", "Minster"]),
    "UnifrakturMaguntia": ("unifrakturmaguntia-latin-400-normal.woff", "blackletter",
                           ["Gutenberg", "Cooper", "Bindery"]),
}  # fmt: skip


def outline(font: TTFont, word: str) -> str:
    """Path data of a word, y down, whole font units."""
    glyphs, names, widths = font.getGlyphSet(), font.getBestCmap(), font["hmtx"]
    pen = SVGPathPen(glyphs, ntos=lambda v: str(round(v)))
    x = 0
    for letter in word:
        name = names[ord(letter)]
        glyphs[name].draw(TransformPen(pen, (1, 0, 0, -1, x, 0)))
        x += widths[name][0]
    return str(pen.getCommands())


def main(folder: Path) -> None:
    """Write words.json beside this file."""
    found = []
    for font, (file, kind, words) in FONTS.items():
        source = TTFont(next(folder.rglob(file)))
        for word in words:
            found.append({"font": font, "kind": kind, "word": word, "d": outline(source, word)})
    text = json.dumps({"licence": "SIL Open Font License", "words": found}, indent=0)
    (Path(__file__).parent / "words.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
