"""The full-text index of the archive: derived from the records, lost or damaged at no cost but time.

words.py     text -> words, the same way when indexing, asking and highlighting
stems.py     words -> stems, in every language of the vocabulary
layout.py    the fields, dates as numbers                    files.py     whose files, what they must look like, durable
build.py     takes entries in, one commit a batch, the mark in the same commit
postings.py  lists of postings as they are written           merging.py   which segments become one, and when
mapped.py    segments mapped, not copied                     opening.py   a commit, opened
reading.py   one segment, read in bulk                       rows.py      words in a row
query.py     what somebody typed -> a query                  nodes.py     parts of it that whoosh has no word for
scoring.py   the query -> hits, best first                   similar.py   words like one that nobody wrote
snippets.py  the lines of a text that answer a query
same.py      of these records, or of others
index.py     :class:`Index`, the only way in
"""

from counterfoil.index.index import Fetch, Hit, Index

__all__ = ["Fetch", "Hit", "Index"]
