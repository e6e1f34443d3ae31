"""The full-text index of the archive: derived from the records, lost or damaged at no cost but time.

words.py     text -> words, the same way when indexing, asking and highlighting
files.py     whose files they are, what they must look like, how they are made durable
layout.py    the fields, dates as numbers
build.py     takes entries in, one commit a batch, the mark in the same commit
query.py     what somebody typed -> whoosh's query -> hits, best first
snippets.py  the lines of a text that answer a query
index.py     :class:`Index`, the only way in
"""

from counterfoil.index.index import Fetch, Hit, Index

__all__ = ["Fetch", "Hit", "Index"]
