"""The example messages of RFC 5322, appendix A (Internet Message Format, 2008), written down from memory.

The section stands beside each; long lines are folded as the standard has them.
"""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from counterfoil.documents.message import read_message
from counterfoil.model import Layer, Mailbox
from counterfoil.settings import Limits

JOHN = Mailbox("John Doe", "jdoe@machine.example")
MARY = Mailbox("Mary Smith", "mary@example.net")


def when(year: int, month: int, day: int, hour: int, minute: int, second: int, offset: float) -> datetime:
    """Return a moment; ``offset`` in hours from UTC."""
    return datetime(year, month, day, hour, minute, second, tzinfo=timezone(timedelta(hours=offset)))


HELLO = when(1997, 11, 21, 9, 55, 6, -6)
SECTIONS = {
    "A.1.1 from one person to another": (
        "From: John Doe <jdoe@machine.example>\n"
        "To: Mary Smith <mary@example.net>\n"
        "Subject: Saying Hello\n"
        "Date: Fri, 21 Nov 1997 09:55:06 -0600\n"
        "Message-ID: <1234@local.machine.example>\n"
        "\n"
        "This is a message just to say hello.\n"
        'So, "Hello".\n',
        Layer("received", None, JOHN, (MARY,), (), HELLO, "Saying Hello", "<1234@local.machine.example>"),
    ),
    "A.1.1 with a Sender field": (
        "From: John Doe <jdoe@machine.example>\n"
        "Sender: Michael Jones <mjones@machine.example>\n"
        "To: Mary Smith <mary@example.net>\n"
        "Subject: Saying Hello\n"
        "Date: Fri, 21 Nov 1997 09:55:06 -0600\n"
        "Message-ID: <1234@local.machine.example>\n"
        "\n"
        "This is a message just to say hello.\n",
        Layer("received", None, JOHN, (MARY,), (), HELLO, "Saying Hello", "<1234@local.machine.example>"),
    ),
    "A.1.2 different types of mailboxes": (
        'From: "Joe Q. Public" <john.q.public@example.com>\n'
        "To: Mary Smith <mary@x.test>, jdoe@example.org, Who? <one@y.test>\n"
        'Cc: <boss@nil.test>, "Giant; \\"Big\\" Box" <sysservices@example.net>\n'
        "Date: Tue, 1 Jul 2003 10:52:37 +0200\n"
        "Message-ID: <5678.21-Nov-1997@example.com>\n"
        "\n"
        "Hi everyone.\n",
        Layer(
            "received",
            None,
            Mailbox("Joe Q. Public", "john.q.public@example.com"),
            (Mailbox("Mary Smith", "mary@x.test"), Mailbox("", "jdoe@example.org"), Mailbox("Who?", "one@y.test")),
            (Mailbox("", "boss@nil.test"), Mailbox('Giant; "Big" Box', "sysservices@example.net")),
            when(2003, 7, 1, 10, 52, 37, 2),
            "",
            "<5678.21-Nov-1997@example.com>",
        ),
    ),
    "A.1.3 group addresses": (
        "From: Pete <pete@silly.example>\n"
        "To: A Group:Ed Jones <c@a.test>,joe@where.test,John <jdoe@one.test>;\n"
        "Cc: Undisclosed recipients:;\n"
        "Date: Thu, 13 Feb 1969 23:32:54 -0330\n"
        "Message-ID: <testabcd.1234@silly.example>\n"
        "\n"
        "Testing.\n",
        Layer(
            "received",
            None,
            Mailbox("Pete", "pete@silly.example"),
            (Mailbox("Ed Jones", "c@a.test"), Mailbox("", "joe@where.test"), Mailbox("John", "jdoe@one.test")),
            (),
            when(1969, 2, 13, 23, 32, 54, -3.5),
            "",
            "<testabcd.1234@silly.example>",
        ),
    ),
    "A.2 a reply": (
        "From: Mary Smith <mary@example.net>\n"
        "To: John Doe <jdoe@machine.example>\n"
        'Reply-To: "Mary Smith: Personal Account" <smith@home.example>\n'
        "Subject: Re: Saying Hello\n"
        "Date: Fri, 21 Nov 1997 10:01:10 -0600\n"
        "Message-ID: <3456@example.net>\n"
        "In-Reply-To: <1234@local.machine.example>\n"
        "References: <1234@local.machine.example>\n"
        "\n"
        "This is a reply to your hello.\n",
        Layer(
            "received",
            None,
            MARY,
            (JOHN,),
            (),
            when(1997, 11, 21, 10, 1, 10, -6),
            "Re: Saying Hello",
            "<3456@example.net>",
        ),
    ),
    "A.4 trace fields": (
        "Received: from x.y.test\n"
        "   by example.net\n"
        "   via TCP\n"
        "   with ESMTP\n"
        "   id ABC12345\n"
        "   for <mary@example.net>;  21 Nov 1997 10:05:43 -0600\n"
        "Received: from node.example by x.y.test; 21 Nov 1997 10:01:22 -0600\n"
        "From: John Doe <jdoe@node.example>\n"
        "To: Mary Smith <mary@example.net>\n"
        "Subject: Saying Hello\n"
        "Date: Fri, 21 Nov 1997 09:55:06 -0600\n"
        "Message-ID: <1234@local.node.example>\n"
        "\n"
        "This is a message just to say hello.\n",
        Layer(
            "received",
            None,
            Mailbox("John Doe", "jdoe@node.example"),
            (MARY,),
            (),
            HELLO,
            "Saying Hello",
            "<1234@local.node.example>",
        ),
    ),
    "A.5 white space, comments and other oddities": (
        "From: Pete(A nice \\) chap) <pete(his account)@silly.test(his host)>\n"
        "To:A Group(Some people)\n"
        "     :Chris Jones <c@(Chris's host.)public.example>,\n"
        "         joe@example.org,\n"
        "  John <jdoe@one.test> (my dear friend); (the end of the group)\n"
        "Cc:(Empty list)(start)Hidden recipients  :(nobody(that I know))  ;\n"
        "Date: Thu,\n"
        "      13\n"
        "        Feb\n"
        "          1969\n"
        "      23:32\n"
        "               -0330 (Newfoundland Time)\n"
        "Message-ID:              <testabcd.1234@silly.test>\n"
        "\n"
        "Testing.\n",
        Layer(
            "received",
            None,
            Mailbox("Pete", "pete@silly.test"),
            (
                Mailbox("Chris Jones", "c@public.example"),
                Mailbox("", "joe@example.org"),
                Mailbox("John", "jdoe@one.test"),
            ),
            (),
            when(1969, 2, 13, 23, 32, 0, -3.5),
            "",
            "<testabcd.1234@silly.test>",
        ),
    ),
    "A.6.1 obsolete addressing": (
        "From: Joe Q. Public <john.q.public@example.com>\n"
        "To: Mary Smith <@node.test:mary@example.net>, , jdoe@test  . example\n"
        "Date: Tue, 1 Jul 2003 10:52:37 +0200\n"
        "Message-ID: <5678.21-Nov-1997@example.com>\n"
        "\n"
        "Hi everyone.\n",
        Layer(
            "received",
            None,
            Mailbox("Joe Q. Public", "john.q.public@example.com"),
            (MARY, Mailbox("", "jdoe@test.example")),
            (),
            when(2003, 7, 1, 10, 52, 37, 2),
            "",
            "<5678.21-Nov-1997@example.com>",
        ),
    ),
    "A.6.2 obsolete dates": (
        "From: John Doe <jdoe@machine.example>\n"
        "To: Mary Smith <mary@example.net>\n"
        "Subject: Saying Hello\n"
        "Date: 21 Nov 97 09:55:06 GMT\n"
        "Message-ID: <1234@local.machine.example>\n"
        "\n"
        "This is a message just to say hello.\n",
        Layer(
            "received",
            None,
            JOHN,
            (MARY,),
            (),
            when(1997, 11, 21, 9, 55, 6, 0),
            "Saying Hello",
            "<1234@local.machine.example>",
        ),
    ),
    "A.6.3 obsolete white space and comments": (
        "From  : John Doe <jdoe@machine(comment).  example>\n"
        "To    : Mary Smith\n"
        "   \n"
        "          <mary@example.net>\n"
        "Subject     : Saying Hello\n"
        "Date  : Fri, 21 Nov 1997 09(comment):   55  :  06 -0600\n"
        "Message-ID  : <1234   @   local(blah)  .machine .example>\n"
        "\n"
        "This is a message just to say hello.\n"
        'So, "Hello".\n',
        Layer("received", None, JOHN, (MARY,), (), HELLO, "Saying Hello", "<1234@local.machine.example>"),
    ),
}


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["LF", "CR LF"])
@pytest.mark.parametrize("section", SECTIONS)
def test_appendix_a(section: str, ends: str) -> None:
    """Every example of the appendix is read as the standard explains it, whatever the line ends."""
    text, layer = SECTIONS[section]
    message = read_message(text.replace("\n", ends).encode(), Limits())
    assert message.layers == (layer,)
    assert message.documents[0].text == text.partition("\n\n")[2].rstrip("\n")
    assert not message.automatic
    assert not message.bulk
