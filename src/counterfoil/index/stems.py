"""Words to stems, by the Snowball algorithms of the languages the shop's mail is in.

The language of a word is not known: a customer writes in one language around a confirmation in another, a query is a
word or two. So every word is indexed under its stem in each of the languages, and asked for in the same way; two
words find one another where one language or another makes them the same. Stems are made from folded words, hence a
query typed without accents meets a text that has them. Compounds are not taken apart. Japanese has no stems here: it
is found to the sign.
"""

from __future__ import annotations

from functools import lru_cache

import Stemmer

from counterfoil.index.words import fold, is_sign

#: ISO 639-1 codes of the packaged vocabulary, but for Japanese (a test holds the two together).
LANGUAGES = ("cs", "da", "de", "en", "es", "fi", "fr", "it", "nb", "nl", "pl", "pt", "sv")
#: Snowball's name where it is not the code.
_NAMES = {"nb": "no"}
#: Goes with the files of an index: made with other stems, it must be built anew.
STEMS_VERSION = f"{','.join(LANGUAGES)} {Stemmer.version()}"

#: Endings whose accents stemming goes by.
_ACCENTED = {
    "fr": (("ees", "ées"), ("ee", "ée")),
    "pt": (("coes", "ções"), ("cao", "ção")),
}
#: Without a cache of its own a stemmer keeps nothing between calls, so threads may share it.
_STEMMERS = {code: Stemmer.Stemmer(_NAMES.get(code, code), 0).stemWord for code in LANGUAGES}
_PLAIN = tuple(stemmed for code, stemmed in _STEMMERS.items() if code not in _ACCENTED)
_BY_ACCENTS = tuple((_STEMMERS[code], endings) for code, endings in _ACCENTED.items())


@lru_cache(maxsize=1 << 16)
def stems(word: str) -> tuple[str, ...]:
    """Return the different stems of a folded word: one or more, none for what is not all letters of an alphabet."""
    if not word.isalpha() or is_sign(word):
        return ()
    found = {stemmed(word) for stemmed in _PLAIN}
    for stemmed, endings in _BY_ACCENTS:
        accented = word
        for bare, ending in endings:
            if word.endswith(bare):
                accented = word[: -len(bare)] + ending
                break
        found.add(stemmed(accented))
    return tuple(sorted({stem if stem.isascii() else fold(stem) for stem in found if stem} or {word}))
