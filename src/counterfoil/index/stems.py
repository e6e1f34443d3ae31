"""Words to stems, by the Snowball algorithms of the languages the shop's mail is in.

The language of a word is not known: a customer writes in one language around a confirmation in another, a query is a
word or two. So every word is indexed under its stem in each of the languages, and asked for in the same way; two
words find one another where one language or another makes them the same. Stems are made from folded words, hence a
query typed without accents meets a text that has them. Compounds are not taken apart.
"""

from __future__ import annotations

from functools import lru_cache

import Stemmer

from counterfoil.index.words import fold

#: ISO 639-1 codes, those of the packaged vocabulary (a test holds the two together).
LANGUAGES = ("de", "en", "es", "fr", "it", "nl", "sv")
#: Goes with the files of an index: made with other stems, it must be built anew.
STEMS_VERSION = f"{','.join(LANGUAGES)} {Stemmer.version()}"

#: Without a cache of its own a stemmer keeps nothing between calls, so threads may share it.
_STEMMERS = tuple(Stemmer.Stemmer(language, 0).stemWord for language in LANGUAGES if language != "fr")
_french = Stemmer.Stemmer("fr", 0).stemWord
#: Endings whose accents French stemming goes by.
_FRENCH_ENDINGS = (("ees", "ées"), ("ee", "ée"))


@lru_cache(maxsize=1 << 16)
def stems(word: str) -> tuple[str, ...]:
    """Return the different stems of a folded word: one or more, none for what is not all letters."""
    if not word.isalpha():
        return ()
    found = {stemmed(word) for stemmed in _STEMMERS}
    french = word
    for bare, accented in _FRENCH_ENDINGS:
        if word.endswith(bare):
            french = word[: -len(bare)] + accented
            break
    found.add(_french(french))
    return tuple(sorted({stem if stem.isascii() else fold(stem) for stem in found if stem} or {word}))
