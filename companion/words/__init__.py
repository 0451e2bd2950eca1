"""Every sentence for the sawyer goes through here, so that it can be said in another language.

English is the source text; other languages are gettext catalogues beside this
file. Values are filled in after translation with ``str.format`` fields.
"""

from __future__ import annotations

from companion.words.catalogue import ENGLISH, Words, languages, words_for

__all__ = ["ENGLISH", "Words", "languages", "words_for"]
