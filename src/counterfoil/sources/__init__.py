"""Messages in: files and folders, Maildir, mbox, zip and standard input give bytes, one message at a time.

A new kind of source is one file with a :class:`~counterfoil.sources.found.SourceKind` and one line in
:data:`counterfoil.sources.collect.KINDS`.
"""

from counterfoil.sources.collect import collect, count
from counterfoil.sources.found import Found, Received, Unreadable

__all__ = ["Found", "Received", "Unreadable", "collect", "count"]
