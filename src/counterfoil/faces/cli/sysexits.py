"""Exit codes for a mail server that hands over a message through a pipe: those of sysexits.h (4.3BSD).

=====================  ==  ================================================================================
EX_OK                   0  the message is durably kept; it may still be open for a person
EX_DATAERR             65  the message cannot be taken in at all (it is beyond the size limit): the sender is told
EX_NOINPUT             66  nothing came in
EX_TEMPFAIL            75  anything else: no archive, a full disk, another run, a wrong setting or option
=====================  ==  ================================================================================

Mail servers hand a message over again later after EX_TEMPFAIL, and send it back after most other codes. What the shop
can mend is therefore always EX_TEMPFAIL, a mistyped option too (EX_USAGE would send customers' mail back).
"""

from __future__ import annotations

from collections.abc import Sequence

OPTION = "--for-mail-server"
EX_OK, EX_DATAERR, EX_NOINPUT, EX_TEMPFAIL = 0, 65, 66, 75
#: What the command returns for a message that is kept: 0 also stands for a run that ended early, in peace.
KEPT = 1_000


def is_wanted(arguments: Sequence[str]) -> bool:
    """Say whether a command is called by a mail server."""
    return OPTION in arguments and "--help" not in arguments and "-h" not in arguments


def for_mail_server(code: int) -> int:
    """Return the code of sysexits.h for what a command returned."""
    if code == KEPT:
        return EX_OK
    return code if code in (EX_DATAERR, EX_NOINPUT) else EX_TEMPFAIL
