"""The samples' shop with three hundred invented customers more, for questions as callers put them.

The people of :data:`_KNOWN` are those the questions are about; all others are drawn by a seed and only crowd the archive.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

from conftest import SAMPLES, sample_archive

from counterfoil import pipeline
from counterfoil.archive import Archive
from counterfoil.model import Decision, Document, Fact, Kind, Layer, Mailbox, Message, Place, Reading, Standing
from counterfoil.patterns.normal import normal
from counterfoil.records.writing import write_message

_COLUMNS = (
    Kind.CUSTOMER_NAME, Kind.EMAIL_ADDRESS, Kind.PHONE_NUMBER, Kind.MAKER, Kind.MODEL, Kind.MACHINE_ID,
    Kind.SERIAL_NUMBER, Kind.PRODUCT_KEY, Kind.ACTIVATION_CODE, Kind.PURCHASE_DATE,
)  # fmt: skip
#: name | e-mail | phone | maker | model | machine ID | serial | product key | activation code | bought | subject | text
_KNOWN = """
Annelie Mayr|annelie.mayr@garnhaus.example|020 7946 0311|Vellamar|Corvina 700|VM-5107-7Q4K|700661204|SP2B-8XQ0-ZZ12|7K5S-UV6G-99L1-44TT|2024-11-20|Ihre Freischaltung|Frau Mayr fragt nach dem Spulenkorb und dem Obergreifer.
Bruno Meier|bruno@meierhof.example|020 7946 0312|Vellamar|Corvina 500|VM-4410-2H9P|700661377|SP9C-1LM4-QQ08|3B7H-KK2P-07ZD-91RA|2025-03-04|Ihre Freischaltung|Herr Meier, das Quiltset ist frei.
Clara Meyer-Stolt|clara@stolt.example|01632 960401|Nadelwerk|Etüde 12|NW 3817 4420 91|NZ558102|KX77-20PL-HHQ3|ZQ4M-81XW-T5RN|2023-06-15|Confirmation|The embroidery arm was calibrated.
Dagny Maier|dagny@maiersaum.example|01632 960402|Nadelwerk|Etüde 14|NW 3817 9951 06|NZ558944|KX77-91QD-0B2E|8DHG-4PVX-62MM|2024-02-29|Confirmation|Dagny Maier asked for the walking foot.
Friederike Schmitt-Lohe|f.schmitt@lohe.example|07700 900311|Tindavar|Lyra II|TD8-88213-F|9Q33107|TQ-71442-B8VD|MB3V-SF5N-PT2D|2025-07-01|Aktivierung|Die Zierstiche sind frei.
Philippa Knightley|pip@knightley.example|07700 900312|Tindavar|Lyra III|TD8-90441-S|9Q40018|TQ-55190-ZV7M|FN4S-DTPB-9ZMV|2022-10-31|Your upgrade|Philippa wants the buttonhole wizard back.
William Wraxendale|bill.w@wraxendale.example|020 7946 0413|Vellamar|Corvina 700|VM-6620-KX4F|700880915|SP4D-71MM-20RT|KX4F-09QD-81HB-55CE|2021-05-08|Your upgrade|William bought the thread cutter.
Margarethe Zollikander|grete@zollikander.example|020 7946 0414|Nadelwerk|Etüde 12|NW 9034 1178 52|NZ600112|KX31-08WD-VV7C|LT6R-22AF-PQ90|2025-03-21|Rechnung|Margarethe schickt die Quittung.
Elisabeth Harrowgate-Finn|lizzie@harrowgate.example|01632 960415|Vellamar|Corvina 900 Pro|VM-9007-J2WD|700990001|SP7H-UU31-6G0A|NN42-DH7K-3R1C-PL08|2024-12-31|Your upgrade|The couching module is active now.
Søren Bækholm|soren@baekholm.example|+45 20 12 34 56|Kestrelle|Maestra|KS-778120-4|KM10557|KE-40QX-77TB|R2D8-K55A-1NCV|2023-01-09|Bekräftelse|Maskinen är aktiverad.
Łucja Przędzalska|lucja@przedza.example|+48 512 345 678|Kestrelle|Maestra|KS-778533-9|KM10988|KE-92DF-38HA|W7XY-6TTE-44GH|2025-09-30|Confirmation|Bobbin winder noise.
Geneviève Beaulier|genevieve@beaulier.example|+33 1 99 00 12 34|Orvanda|Fileuse 3|OR3-55A1-90|FL300871|OV-61KD-2A|C4P7-XXH3-MQ9T|2024-08-17|Confirmation d'activation|Les points décoratifs sont activés.
Vicente Vázquero|vicente@vazquero.example|+34 910 123 456|Orvanda|Fileuse 4|OR3-77C4-12|FL400019|OV-88ZT-5V|H6QN-PD20-RR7W|2025-02-11|Confirmación|El prensatelas de zigzag está activado.
Giacomina Schiavonelli|giaco@schiavonelli.example|+39 06 9999 1234|Orvanda|Fileuse 4|OR3-79E2-55|FL400442|OV-13MM-8Q|T9LA-5KE6-0XDC|2022-03-03|Conferma|Il crochet è stato regolato.
Jan-Willem Terhoevel|jw@terhoevel.example|+31 20 999 1234|Kestrelle|Virtuosa|KS-301447-6|KM20331|KE-70BB-19QD|PV3D-TB8Z-SFMN|2025-03-15|Bevestiging|De naaivoet is vervangen.
Katharina Oberdammer|k.oberdammer@post.example|01632 960416|Tindavar|Lyra II|TD8-12056-M|9Q51230|TQ-90217-MNFS|VZDB-77PT-3FSN|2025-03-28|Aktivierung|Das Freiarmstickmodul klemmt.
Robert Quillfeather|bob@quillfeather.example|020 7946 0417|Vellamar|Corvina 500|VM-1203-A8S5|700112233|SP1A-00QD-L1I7|A8S5-Z2O0-BB86-1LII|2020-06-06|Your upgrade|Robert lost the presser foot lever.
Oskar Victor Lindqvist|oskar@lindqvist.example|+46 8 123 456 78|Kestrelle|Virtuosa|KS-309912-1|KM20877|KE-55PT-60VZ|D7B7-P7T7-V7Z7|2024-05-05|Bekräftelse|Trådklippet fungerar.
"""

_GIVEN = (
    "Alda Berit Cosima Delia Edwin Fabia Gerwin Hedda Ivo Jorunn Kuno Levin Mirja Nelda Orla Pelle Quirin Runa Sunniva "
    "Tamino Ulrik Velma Wanja Xenia Yorick Zita"
).split()
_HEADS = "Ahl Brand Cram Dorn Eschen Flach Grau Hasel Ister Jors Krumm Lind Moos Nessel Orth Pfing Rauh Sand Thal Ulm".split()
_TAILS = "acker bichler crantz dinger eck furt gruber hauser inger kamp lage moser neder pohl rath stedt tobel wanger".split()
_ALPHABET = "0123456789ABCDEFGHJKLMNPQRSTVWXYZ"
_FIRST_DAY = datetime(2021, 1, 4, 10, tzinfo=UTC)
CROWD = 300
Values = Mapping[Kind, str]


def _known() -> list[tuple[dict[Kind, str], str, str]]:
    made = []
    for line in _KNOWN.strip().splitlines():
        *fields, subject, text = line.split("|")
        made.append((dict(zip(_COLUMNS, fields, strict=True)), subject, text))
    return made


def _crowd() -> list[tuple[dict[Kind, str], str, str]]:
    source = random.Random(20251)
    made = []

    def code(count: int) -> str:
        return "-".join("".join(source.choices(_ALPHABET, k=4)) for _ in range(count))

    for number in range(CROWD):
        given, family = source.choice(_GIVEN), source.choice(_HEADS) + source.choice(_TAILS)
        day = _FIRST_DAY.date() + timedelta(days=source.randrange(1_400))
        fields = (
            f"{given} {family}", f"{given}.{family}{number}@post.example".lower(), f"01632 960{number + 500:03}",
            "Vellamar", source.choice(("Corvina 500", "Corvina 700")), f"VM-{source.randrange(10**4):04}-{code(1)}",
            f"70{source.randrange(10**7):07}", f"SP{code(3)[2:]}", code(4), day.isoformat(),
        )  # fmt: skip
        if number + 500 > 999:
            fields = (*fields[:2], "", *fields[3:])
        values = {kind: value for kind, value in zip(_COLUMNS, fields, strict=True) if value}
        made.append((values, "Your upgrade", "The upgrade is active now, keep this message."))
    return made


def _write(archive: Archive, number: int, values: Values, subject: str, text: str) -> None:
    """File one confirmation to a new customer with a new machine, received on the day of purchase or by number."""
    facts = tuple(Fact(k, v, normal(k, v) or v, Place("body"), "label", odds=8.0) for k, v in values.items())
    when = datetime.fromisoformat(f"{values[Kind.PURCHASE_DATE]}T09:00:00+00:00")
    sender = Mailbox(values[Kind.CUSTOMER_NAME], values[Kind.EMAIL_ADDRESS])
    layer = Layer("received", None, sender, date=when, subject=subject, message_id=f"<{number}@forgiving.example>")
    sha256 = hashlib.sha256(f"forgiving {number}".encode()).hexdigest()
    message = Message(sha256, len(text), (layer,), (Document("body", 0, text, (), size=len(text)),))
    reading = Reading(facts, {f.kind: f for f in facts}, confirmation=5.0, redacted={"body": text})
    decision = Decision(Standing.FILED, new_customer=True, new_machine=True)
    with archive.store.write() as conn:
        write_message(conn, message, reading, f"forgiving/{number}.eml", decision, frozenset(values))


def build(folder: Path) -> Archive:
    """Make the archive: the samples' mail read as it would be, then everybody else."""
    archive = sample_archive(folder / "archive")
    pipeline.ingest(archive, [str(SAMPLES / name) for name in ("mailbox", "old.mbox", "Maildir")])
    with archive.store.write():
        for number, (values, subject, text) in enumerate([*_known(), *_crowd()]):
            _write(archive, number, values, subject, text)
    archive.index.catch_up(archive.store.index_entries)
    return archive
