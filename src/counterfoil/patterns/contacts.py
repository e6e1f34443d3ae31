"""The customer as the envelope names it: whom the maker wrote to, or who typed the confirmation in by hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection

from counterfoil.model import Fact, Kind, Layer, Mailbox, Message, Place
from counterfoil.patterns import odds
from counterfoil.patterns.names import fold_name, is_several
from counterfoil.patterns.normal import normal_email, normal_name

#: Mailboxes no person writes from (common practice, no source).
_ROLES = re.compile(
    r"(?:no-?_?reply|do-?not-?reply|service|support|info|sales|shop|office|kundendienst|kontakt|contact|registration|"
    r"activation|aktivierung|noreply|mailer-daemon|postmaster|bounce|news|newsletter|help|team|admin|upgrades?|hello|mail|"
    r"confirm(?:ations?)?|register|registro|registrierung|registrazione|activate|licen[cs]es?|accounts?|care|"
    r"customer(?:care|service)?|aktivering|activacion|attivazione|soporte|klantenservice|servicio|servizio|assistenza|"
    r"kundtjanst)\b",
    re.IGNORECASE,
)


#: Mailboxes behind which several people or a program stand: lists, queues (common practice, no source; RFC 2142 and
#: RFC 2919 have some of them).
_SHARED = re.compile(
    r"(?:lists?|mailing-?list|members|owners?|group|groups|announce|all|everybody|forum|community|club|subscribers?|"
    r"tickets?|queue|cases?|requests?|help-?desk|service-?desk|issues?|inbox)\b|[^@]*(?:-(?:list|members|owners|request|"
    r"bounces)|[+-](?:ticket|case|id)?[-#]?\d{3,})@|[^@]*@(?:lists?|groups?|tickets?|mailman)\.",
    re.IGNORECASE,
)


def is_role_mailbox(address: str) -> bool:
    """Tell whether an address is a service's (info@, no-reply@) and no person's."""
    return _ROLES.match(address) is not None


def is_shared_mailbox(address: str) -> bool:
    """Tell whether an address is a list's or a queue's: mail to it says nothing of one customer."""
    return _SHARED.match(address) is not None


def envelope_facts(
    message: Message,
    layer: int,
    *,
    is_maker: Callable[[str], bool],
    shop: Collection[str],
    typed: bool,
    labelled_name: bool,
    someone_else: bool,
) -> list[Fact]:
    """Return customer name and e-mail address from the headers of the confirmation.

    The forwarder is no fact. The To field counts where a maker wrote it: in a layer sent by a known maker, or by a
    service's mailbox in a layer inside another or with the shop in copy; in a mail of a private person it is
    doubtful. Who typed a confirmation by hand is the customer, unless it names one or speaks for somebody else.

    Args:
        message: the message.
        layer: the layer the confirmation came in.
        is_maker: tells whether an address is a maker's.
        shop: the shop's own addresses, in lower case.
        typed: whether the confirmation is text of the layer as received and nothing else.
        labelled_name: whether the confirmation itself names a customer behind a label.
        someone_else: whether it is about another person's machine: the writer says so, or quotes another person.
    """
    envelope = message.layers[layer]
    sender = envelope.sender.address.lower() if envelope.sender is not None else ""
    if layer > 0 and sender in shop:
        return []  # the shop's own mail to whoever wrote for the customer
    sender_is_maker = bool(sender) and is_maker(sender)
    people = [box for box in envelope.to if _is_person(box, is_maker, shop)]
    shop_in_to = any(box.address.lower() in shop for box in envelope.to)
    shop_in_cc = any(box.address.lower() in shop for box in envelope.cc)
    if layer > 0 or sender_is_maker or (shop_in_cc and not shop_in_to):
        shared = any(is_shared_mailbox(box.address) for box in people)
        if len(people) == 1 and not shared and (sender_is_maker or is_role_mailbox(sender)):
            return _facts(people[0], layer, "To of the confirmation", odds.TO_HEADER, odds.TO_HEADER_NAME)
        why = "one of several in To" if len(people) > 1 else "in To, but perhaps of a private mail"
        why = "in To, but a list's or a queue's address" if shared else why
        return [fact for box in people[:5] for fact in _facts(box, layer, why, odds.SENDER_UNSURE, odds.SENDER_UNSURE)]
    if not typed or labelled_name or message.automatic or message.bulk:
        return []
    return _sender(envelope, layer, is_maker, shop, shop_in_to and not someone_else)


def _sender(
    envelope: Layer, layer: int, is_maker: Callable[[str], bool], shop: Collection[str], to_shop: bool
) -> list[Fact]:
    box = envelope.sender
    if box is None or not _is_person(box, is_maker, shop) or is_role_mailbox(box.address):
        return []
    if envelope.authors > 1:
        return _facts(box, layer, "one of several in From", odds.SENDER_UNSURE, odds.SENDER_UNSURE)
    worth = odds.TYPED_BY_SENDER if to_shop else odds.SENDER_UNSURE
    return _facts(box, layer, "typed by the sender", worth, worth)


def _is_person(box: Mailbox, is_maker: Callable[[str], bool], shop: Collection[str]) -> bool:
    address = box.address.lower()
    return bool(address) and address not in shop and not is_maker(address)


def _facts(box: Mailbox, layer: int, why: str, address_odds: float, name_odds: float) -> list[Fact]:
    place = Place(f"headers:{layer}")
    facts = []
    address = normal_email(box.address)
    if address:
        facts.append(
            Fact(Kind.EMAIL_ADDRESS, box.address, address, place, "headers", odds=address_odds, evidence=(why,))
        )
    name = normal_name(box.name.strip(" '\""))
    parts = fold_name(name)
    if name and "@" not in name and parts and not any(c.isdigit() for c in name):
        worth = name_odds if len(parts) > 1 and not is_several(name) else min(name_odds, odds.DOUBTFUL)
        facts.append(Fact(Kind.CUSTOMER_NAME, name, name, place, "headers", odds=worth, evidence=(why,)))
    return facts
