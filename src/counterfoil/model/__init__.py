"""Frozen values that travel between the stages; nothing here reads, writes or decides.

Three groups, in the order of the flow: what a message is made of (message.py), what was read from it
(reading.py), what the records answer (records.py). Every value can be traced: a :class:`Fact` knows its :class:`Place`.

Units: boxes in PDF points (1/72 inch) with the origin at the lower left corner of the page, as PDF
user space has it; spans in characters of :attr:`Document.text`; pages count from 1; odds are natural
log-odds (4.6 is 99 in 100).
"""

from counterfoil.model.customer_list import BadRow, CustomerList, ListRow
from counterfoil.model.message import (
    Box,
    Cell,
    Document,
    Layer,
    Line,
    Mailbox,
    Message,
)
from counterfoil.model.picture import PagePicture
from counterfoil.model.reading import (
    Candidate,
    Decision,
    Fact,
    Place,
    Question,
    Reading,
)
from counterfoil.model.records import (
    CodeHit,
    CustomerProfile,
    DocumentRecord,
    FirmwareNote,
    Holding,
    IndexEntry,
    JournalEntry,
    MachineProfile,
    MessageRecord,
    Noted,
    Rule,
    Upgrade,
    board_now,
)
from counterfoil.model.words import (
    ALSO_IN_SYMBOL,
    ALSO_IN_TEXT,
    BY_EYE,
    CODE_KINDS,
    CUSTOMER_KINDS,
    DATE_KINDS,
    SECRET_KINDS,
    SOLD_SINCE,
    Check,
    Kind,
    Problem,
    Standing,
)

__all__ = [
    "ALSO_IN_SYMBOL",
    "ALSO_IN_TEXT",
    "BY_EYE",
    "CODE_KINDS",
    "CUSTOMER_KINDS",
    "DATE_KINDS",
    "SECRET_KINDS",
    "SOLD_SINCE",
    "BadRow",
    "Box",
    "Candidate",
    "Cell",
    "Check",
    "CodeHit",
    "CustomerList",
    "CustomerProfile",
    "Decision",
    "Document",
    "DocumentRecord",
    "Fact",
    "FirmwareNote",
    "Holding",
    "IndexEntry",
    "JournalEntry",
    "Kind",
    "Layer",
    "Line",
    "ListRow",
    "MachineProfile",
    "Mailbox",
    "Message",
    "MessageRecord",
    "Noted",
    "PagePicture",
    "Place",
    "Problem",
    "Question",
    "Reading",
    "Rule",
    "Standing",
    "Upgrade",
    "board_now",
]
