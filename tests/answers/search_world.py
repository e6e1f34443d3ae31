"""A small shop in real records and a real index, written without the filing rules: what is where is said outright."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from counterfoil.index import Index
from counterfoil.model import (
    Decision,
    Document,
    Fact,
    Kind,
    Layer,
    Mailbox,
    Message,
    Place,
    Question,
    Reading,
    Standing,
)
from counterfoil.patterns.normal import normal
from counterfoil.records.store import Store
from counterfoil.records.writing import write_message
from counterfoil.settings import Settings

Values = Mapping[Kind, str]

MARIT: Values = {
    Kind.CUSTOMER_NAME: "Marit Solvang",
    Kind.EMAIL_ADDRESS: "marit@solvang.example",
    Kind.PHONE_NUMBER: "020 7946 0123",
    Kind.MAKER: "Vellamar",
    Kind.MODEL: "Corvina 700",
    Kind.MACHINE_ID: "VM-204817-K",
    Kind.SERIAL_NUMBER: "700551203",
    Kind.PRODUCT_KEY: "SP2B-8XQ0-ZZ12",
    Kind.ACTIVATION_CODE: "7K5S-UV6G-99L1-44TT",
}
#: The same household: family name and telephone are shared.
ODILE: Values = {
    Kind.CUSTOMER_NAME: "Odile Solvang",
    Kind.EMAIL_ADDRESS: "odile@solvang.example",
    Kind.PHONE_NUMBER: "020 7946 0123",
    Kind.MAKER: "Vellamar",
    Kind.MODEL: "Corvina 500",
    Kind.MACHINE_ID: "VM-771930-B",
    Kind.PRODUCT_KEY: "SP9C-1LM4-QQ08",
    Kind.ACTIVATION_CODE: "3B7H-KK2P-07ZD-91RA",
}
ILSE: Values = {
    Kind.CUSTOMER_NAME: "Ilse Brückwald",
    Kind.EMAIL_ADDRESS: "ilse.b@post.example",
    Kind.PHONE_NUMBER: "01632 960555",
    Kind.MAKER: "Nadelwerk",
    Kind.MODEL: "Etüde 12",
    Kind.MACHINE_ID: "NW 4410 8826 35",
    Kind.PRODUCT_KEY: "KX77-20PL",
    Kind.ACTIVATION_CODE: "ZQ4M-81XW",
}
#: Bought Ilse's machine.
TEUN: Values = {
    Kind.CUSTOMER_NAME: "Teun Duinhoven",
    Kind.EMAIL_ADDRESS: "teun@duin.example",
    Kind.MAKER: "Nadelwerk",
    Kind.MODEL: "Etüde 12",
    Kind.MACHINE_ID: "NW 4410 8826 35",
}
FENJA: Values = {Kind.ACTIVATION_CODE: "P0PP-YS33-1CKX"}

SECRETS = tuple(
    person[kind]
    for person in (MARIT, ODILE, ILSE, FENJA)
    for kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE)
    if kind in person
)


class Shop:
    """Records and index of the shop: customers C1 Marit, C2 Odile, C3 Ilse, C4 Teun; machines M1, M2, M3."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(region="GB")
        self.store = Store(folder / "records.db", create=True, settings=self.settings)
        self.index = Index(folder / "index")
        self.write(MARIT, "Your upgrade is active", "Dear Marit Solvang, the hoop library is active now.", "2025-03-02")
        self.write(ODILE, "Your upgrade is active", "Dear Odile Solvang, the quilting set is active now.", "2025-04-02")
        self.write(ILSE, "Freischaltung", "Frau Brückwald, die Stickmuster sind frei.", "2025-05-02")
        self.write(TEUN, "Changed hands", "The needle threader came with it.", "2025-09-10", machine="M3")
        self.write(MARIT, "Question on the hoop", "Where is the hoop library of the Corvina?", "2025-11-20", "C1", "M1")
        fenja = Mailbox("Fenja Gansewinkel", "fenja@ganse.example")
        text = "I am Fenja Gansewinkel, code P0PP-YS33-1CKX, hoop."
        self.write(FENJA, "Please help P0PP-YS33-1CKX", text, "2025-12-01", standing=Standing.OPEN, sender=fenja)
        self.index.catch_up(self.store.index_entries)

    def write(
        self,
        values: Values,
        subject: str,
        text: str,
        day: str,
        customer: str | None = None,
        machine: str | None = None,
        *,
        standing: Standing = Standing.FILED,
        sender: Mailbox | None = None,
    ) -> None:
        """Write one message with its facts, filed to the customer and machine given, else to new ones."""
        facts = tuple(
            Fact(kind, value, normal(kind, value) or value, Place("body"), "label", odds=8.0)
            for kind, value in values.items()
        )
        sender = sender or Mailbox(values[Kind.CUSTOMER_NAME], values[Kind.EMAIL_ADDRESS])
        when = datetime.fromisoformat(f"{day}T09:00:00+00:00")
        layer = Layer("received", None, sender, date=when, subject=subject, message_id=f"<{day}@post.example>")
        sha256 = hashlib.sha256(f"{subject}{text}{day}".encode()).hexdigest()
        message = Message(sha256, len(text), (layer,), (Document("body", 0, text, (), size=len(text)),))
        masked = text
        for fact in facts:
            if fact.kind in (Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE):
                masked = masked.replace(fact.value, "•" * len(fact.value))
        reading = Reading(facts, {f.kind: f for f in facts}, confirmation=5.0, redacted={"body": masked})
        filed = standing is Standing.FILED
        decision = Decision(
            standing,
            () if filed else (Question("fact_missing", "No machine ID was found."),),
            customer,
            machine,
            new_customer=filed and customer is None,
            new_machine=filed and machine is None,
        )
        with self.store.write() as conn:
            write_message(conn, message, reading, f"inbox/{day}.eml", decision, frozenset(values))
