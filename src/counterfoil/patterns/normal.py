"""Normal forms: the spelling under which two values count as the same. Pure functions, used by the records too."""

from __future__ import annotations

import re
import unicodedata

from counterfoil.model import CODE_KINDS, DATE_KINDS, Kind

_NOT_CODE = re.compile(r"[^0-9A-Z]+")
_SPACES = re.compile(r"\s+")
_VERSION = re.compile(r"\d+(?:\.\d+){0,5}")
_ADDRESS = re.compile(r"[^\s@<>(),;:\"]{1,64}@[^\s@<>(),;:\"]{1,255}")
_PHONE_CHARS = re.compile(r"[+(]?[\d(][\d\s()./\-\u2010-\u2015\u00a0]{4,40}")
# fmt: off
_TITLES = frozenset(
    [
        "mr", "mrs", "ms", "miss", "mx", "dr", "prof", "professor", "sir", "madam", "dame", "herr", "frau",
        "hr", "fr", "dipl", "ing", "mag", "m", "mme", "mlle", "monsieur", "madame", "mademoiselle", "dhr",
        "mevr", "mw", "heer", "mevrouw", "sr", "sra", "srta", "don", "dona", "senor", "senora", "sig", "sigra",
        "signor", "signora", "signore", "dott", "dottssa",
    ]
)
# fmt: on

#: Letters of other scripts that look like Latin capitals (from Unicode TS 39 data, from memory).
_FOREIGN = str.maketrans("АВЕЅІЈКМНОРСТУХΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABESIJKMHOPCTYXABEZHIKMNOPTYX")
#: Characters mistaken for one another when read by eye (own choice; Crockford's Base32 folds fewer).
_LOOK_ALIKE = str.maketrans("OQDILJZSBGTUY", "0001112586" + "7VV")


def normal_code(text: str) -> str:
    """Return a code's normal form: NFKC, upper case, ASCII letters and digits only."""
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text)
    return _NOT_CODE.sub("", text.upper())


def fold_code(text: str) -> str:
    """Return a code with look-alike characters made equal (O Q D 0, I L J 1, Z 2, S 5, B 8, G 6, T 7, U V Y).

    Two codes with the same fold may differ in a character that was misread; the fold is no code.
    """
    upper = unicodedata.normalize("NFKC", text).upper().translate(_FOREIGN)
    return _NOT_CODE.sub("", upper).translate(_LOOK_ALIKE)


def normal_text(text: str) -> str:
    """Return text in NFKC with runs of white space made one space."""
    return _SPACES.sub(" ", unicodedata.normalize("NFKC", text)).strip()


def normal_name(text: str) -> str:
    """Return a name in NFKC with single spaces, titles such as Ms or Herr left off, case as written."""
    parts = normal_text(text).strip(" ,;:.").split(" ")
    while len(parts) > 1 and is_title(parts[0]):
        parts.pop(0)
    return " ".join(parts)


def is_title(word: str) -> bool:
    """Tell whether a word is a form of address (Mr, Frau, Mme ...) and no part of a name."""
    return word.replace(".", "").casefold() in _TITLES


def normal_email(text: str) -> str | None:
    """Return the e-mail address in the text in lower case, None where there is none (RFC 5322 addr-spec, unquoted)."""
    found = _ADDRESS.search(unicodedata.normalize("NFKC", text))
    if found is None:
        return None
    address = found.group().strip(".'").lower()
    domain = address.rpartition("@")[2]
    return address if "." in domain and not domain.startswith((".", "-")) else None


def normal_phone(text: str, region: str = "GB") -> str | None:
    """Return the telephone number in the text in E.164 form, None where there is none.

    Args:
        text: the number in any spelling, perhaps with words around it.
        region: ISO 3166-1 code used for numbers without a country code.
    """
    import phonenumbers  # its metadata takes 30 ms to load; most messages have no telephone number

    found = _PHONE_CHARS.search(text)
    if found is None:
        return None
    try:
        number = phonenumbers.parse(found.group(), region)
    except phonenumbers.NumberParseException:
        return None
    if not phonenumbers.is_possible_number(number):
        return None
    return str(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164))


def is_fixed_line(number: str) -> bool:
    """Tell whether a telephone number, E.164, is that of a fixed line, which a household shares.

    False where its country does not tell fixed lines from mobiles by number (the numbering plans in phonenumbers).
    """
    import phonenumbers

    try:
        kind = phonenumbers.number_type(phonenumbers.parse(number))
    except phonenumbers.NumberParseException:
        return False
    return bool(kind == phonenumbers.PhoneNumberType.FIXED_LINE)


def normal_version(text: str) -> str:
    """Return a version as digits and dots ("v2.10 " gives "2.10"), empty where there is none."""
    found = _VERSION.search(unicodedata.normalize("NFKC", text))
    return found.group() if found else ""


def normal(kind: Kind, value: str, region: str = "GB") -> str:
    """Return the normal form of a value of a kind.

    Dates give ISO 8601 (the likelier reading where there are two). Values that are not what the kind says
    (an e-mail address without an at sign) give their text with single spaces.
    """
    if kind in CODE_KINDS or kind is Kind.INVOICE_NUMBER:
        return normal_code(value)
    if kind in DATE_KINDS:
        from counterfoil.patterns.dates import read_date

        best = read_date(value).best
        return best.isoformat() if best else normal_text(value)
    if kind is Kind.EMAIL_ADDRESS:
        return normal_email(value) or normal_text(value).lower()
    if kind is Kind.PHONE_NUMBER:
        return normal_phone(value, region) or normal_text(value)
    if kind is Kind.FIRMWARE_VERSION:
        return normal_version(value) or normal_text(value)
    return normal_name(value) if kind is Kind.CUSTOMER_NAME else normal_text(value)
