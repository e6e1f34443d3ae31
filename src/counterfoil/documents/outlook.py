"""Telling Outlook message files (.msg) and packed attachments (TNEF) by their bytes, without opening them."""

from __future__ import annotations

#: How compound files begin ([MS-CFB] section 2.2); other office files do so too ...
SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
#: ... but only messages have a stream of this name ([MS-OXMSG] section 2.4).
MARK = "__properties_version1.0".encode("utf-16-le")
#: How packed attachments begin ([MS-OXTNEF] section 2.1.3.1).
TNEF = b"\x78\x9f\x3e\x22"


def is_msg(data: bytes) -> bool:
    """Say whether bytes are an Outlook message file, whole or damaged."""
    return data.startswith(SIGNATURE) and MARK in data


def is_tnef(data: bytes) -> bool:
    """Say whether bytes are attachments packed for one mail program."""
    return data.startswith(TNEF)
