"""Kinds of facts, standings of messages, results of checks, problems of documents."""

from __future__ import annotations

from enum import StrEnum


class Kind(StrEnum):
    """What a fact says."""

    MACHINE_ID = "machine_id"
    SERIAL_NUMBER = "serial_number"
    PRODUCT_KEY = "product_key"
    ACTIVATION_CODE = "activation_code"
    MAKER = "maker"
    MODEL = "model"
    UPGRADE_NAME = "upgrade_name"
    FIRMWARE_VERSION = "firmware_version"
    PURCHASE_DATE = "purchase_date"
    REGISTRATION_DATE = "registration_date"
    INVOICE_NUMBER = "invoice_number"
    CUSTOMER_NAME = "customer_name"
    EMAIL_ADDRESS = "email_address"
    PHONE_NUMBER = "phone_number"
    POSTAL_ADDRESS = "postal_address"


#: Kinds that are masked unless somebody asks to see them and says why.
SECRET_KINDS = frozenset({Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE})
#: Kinds whose value is a code: letters and digits, found through the code table.
CODE_KINDS = frozenset({Kind.MACHINE_ID, Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE})
DATE_KINDS = frozenset({Kind.PURCHASE_DATE, Kind.REGISTRATION_DATE})
#: Kinds that belong to a customer; all others belong to a machine.
CUSTOMER_KINDS = frozenset({Kind.CUSTOMER_NAME, Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER, Kind.POSTAL_ADDRESS})


#: Begin of the evidence of a model whose maker's file says since when it is sold; a year, month or day follows.
SOLD_SINCE = "sold since "


#: Begin of the evidence of a value that was read off a picture, where letters and digits are mistaken for each other.
BY_EYE = "read by eye from a picture"
#: Evidence of such a code that the same code stands in a text of the message, or in a QR or bar code.
ALSO_IN_TEXT = "the same code stands in a text of the message"
ALSO_IN_SYMBOL = "the same code stands in a QR or bar code of the message"


class Standing(StrEnum):
    """Where a message stands."""

    FILED = "filed"
    OPEN = "open"
    ASIDE = "aside"


class Check(StrEnum):
    """Result of a check digit."""

    PASSED = "passed"
    FAILED = "failed"
    NONE = "none"


class Problem(StrEnum):
    """Why a document gave no text, or not all of it."""

    ENCRYPTED = "encrypted"
    SCANNED = "scanned"
    PICTURE = "picture"
    DAMAGED = "damaged"
    EMPTY = "empty"
    TOO_LARGE = "too_large"
    UNKNOWN_TYPE = "unknown_type"
