# ruff: noqa: E501  (one person a line reads best)
"""The invented world: people, their machines, and what a confirmation says of them.

Nobody here exists. Mail domains end in .example, telephone numbers come from the ranges that Ofcom (UK) and
NANPA (US, 555-01xx) keep free for fiction.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field, replace
from datetime import date, datetime

import words
from makers import MAKERS, Maker, Offer, draw_code

SHOP_NAME = "Thimblewick Sewing Rooms"
SHOP = "support@thimblewick.example"
SHOP_ADDRESSES = (SHOP, "hello@thimblewick.example", "workshop@thimblewick.example")


@dataclass(frozen=True)
class Person:
    """A customer of the shop. ``address`` is street, town, country, as written on one line."""

    key: str
    given: str
    family: str
    email: str
    language: str
    phone: str = ""
    address: str = ""

    @property
    def name(self) -> str:
        """Given name, then family name."""
        return f"{self.given} {self.family}"


_PEOPLE = (
    ("hetty", "Hetty", "Oakenshaw", "hetty.oakenshaw@postbox.example", "en", "01632 960114", "4 Larkspur Row, Millbeck, United Kingdom"),
    ("dorothea", "Dorothea", "Brindlecombe", "d.brindlecombe@postbox.example", "en", "07700 900231", "The Old Dairy, Nether Wimble, United Kingdom"),
    ("gwen", "Gwen", "Tollivar", "gwen@tollivar.example", "en", "020 7946 0417", "22b Harrow Steps, Quaybridge, United Kingdom"),
    ("maud", "Maud", "Fennimarsh", "maud.fennimarsh@postbox.example", "en", "07700 900518", "9 Sedge Lane, Fenwater, United Kingdom"),
    ("imogen", "Imogen", "Thackerby", "thackerbys@postbox.example", "en", "01632 960377", "Thornhill Farm, Upper Sallow, United Kingdom"),
    ("barnaby", "Barnaby", "Thackerby", "thackerbys@postbox.example", "en", "01632 960377", "Thornhill Farm, Upper Sallow, United Kingdom"),
    ("priya", "Priya", "Ravelstone", "priya.r@letterbox.example", "en", "07700 900642", "Flat 3, 18 Gasworks Road, Quaybridge, United Kingdom"),
    ("colm", "Colm", "O'Dravigan", "colm@odravigan.example", "en", "07700 900077", "2 Slip Street, Port Carrow, United Kingdom"),
    ("tamsin", "Tamsin", "Wexcombe", "tamsin.wexcombe@letterbox.example", "en", "01632 960845", "Chapel Cottage, Tressey, United Kingdom"),
    ("joan-1", "Joan", "Marlowick", "joan.marlowick@postbox.example", "en", "01632 960902", "31 Station Road, Millbeck, United Kingdom"),
    ("joan-2", "Joan", "Marlowick", "j.marlowick.stitches@letterbox.example", "en", "07700 900733", "6 Priory Close, Fenwater, United Kingdom"),
    ("lurleen", "Lurleen", "Hatchabee", "lurleen@hatchabee.example", "en", "+1 212-555-0143", "118 Cotton Gin Road, Dry Fork, USA"),
    ("odell", "Odell", "Pinkerfield", "odell.p@mailroom.example", "en", "+1 312-555-0188", "7 Quarry View, Saltlick, USA"),
    ("rosalind", "Rosalind", "Quayle-Dunmore", "rosalind@quayle-dunmore.example", "en", "020 7946 0650", "Garden Flat, 1 Inkpen Square, Quaybridge, United Kingdom"),
    ("kenelm", "Kenelm", "Pilbrough", "kenelm@pilbrough.example", "en", "020 7946 0288", "5 Ropewalk, Port Carrow, United Kingdom"),
    ("vera", "Vera", "Lintock", "vera.lintock@postbox.example", "en", "01632 960556", "12 Weir Bank, Millbeck, United Kingdom"),
    ("annegret", "Annegret", "Wollenschein", "annegret.wollenschein@briefkasten.example", "de", "", "Am Webstuhl 12, 99998 Garnstetten, Deutschland"),
    ("juergen", "Jürgen", "Fadenbrecht", "j.fadenbrecht@briefkasten.example", "de", "", "Spulengasse 3, 99997 Nadelbach, Deutschland"),
    ("kaethe", "Käthe", "Nähringer", "kaethe.naehringer@postamt.example", "de", "", "Ufergasse 41, 99996 Oberzwirn, Deutschland"),
    ("hannelore", "Hannelore", "Zwirnstein", "hannelore@zwirnstein.example", "de", "+44 1632 960278", "Lindenhof 8, 99998 Garnstetten, Deutschland"),
    ("gisela", "Gisela", "Zwirnstein", "gisela.z@briefkasten.example", "de", "+44 1632 960278", "Lindenhof 8, 99998 Garnstetten, Deutschland"),
    ("ottokar", "Ottokar", "Spindelmoos", "ottokar.spindelmoos@postamt.example", "de", "", "Moosweg 77, 99995 Tuchau, Österreich"),
    ("brunhilde", "Brunhilde", "Garnhöfer", "b.garnhoefer@briefkasten.example", "de", "", "Knopfplatz 5, 99994 Saumfelden, Österreich"),
    ("falk", "Falk", "Überwasser", "falk.ueberwasser@postamt.example", "de", "", "Hafenstraße 19, 99993 Bandhafen, Deutschland"),
    ("clemence", "Clémence", "Aubrelin", "clemence.aubrelin@courrier.example", "fr", "", "14 rue des Bobines, 99901 Aiguemont, France"),
    ("therese", "Thérèse", "Valcourbe", "t.valcourbe@courrier.example", "fr", "+44 7700 900155", "Le Petit Ourlet, 99902 Filanges, France"),
    ("bastien", "Bastien", "Dormagny", "bastien@dormagny.example", "fr", "", "3 place du Dé, 99903 Couture-sur-Lys, France"),
    ("elodie", "Élodie", "Fontrevel", "elodie.fontrevel@boiteauxlettres.example", "fr", "", "27 quai des Lisières, 99901 Aiguemont, France"),
    ("hugues", "Hugues", "de Larmontel", "h.delarmontel@courrier.example", "fr", "", "Manoir du Fuseau, 99904 Larmontel, France"),
    ("noemie", "Noémie", "Castelbrac", "noemie.castelbrac@boiteauxlettres.example", "fr", "", "8 impasse du Ruban, 99905 Trameville, Belgique"),
    ("fenna", "Fenna", "van der Kluwen", "fenna@vanderkluwen.example", "nl", "+44 1632 960611", "Spoelkade 21, 9999 ZX Garendam, Nederland"),
    ("sanne", "Sanne", "van der Kluwen", "sanne.vdk@brievenbus.example", "nl", "", "Naaldstraat 4, 9998 YB Zoomerveen, Nederland"),
    ("joost", "Joost", "Garenstra", "joost.garenstra@brievenbus.example", "nl", "", "Draadweg 63, 9997 XC Stikhuizen, Nederland"),
    ("wietske", "Wietske", "Zoomeling", "w.zoomeling@postvak.example", "nl", "", "Lapjesplein 2, 9996 WD Oudenaald, België"),
    ("maarten", "Maarten", "ten Hoezen", "maarten@tenhoezen.example", "nl", "", "Klosdijk 110, 9995 VE Garendam, Nederland"),
    ("rosario", "Rosario", "Hilandero Paz", "rosario.hilandero@correo.example", "es", "", "Calle del Dedal 7, 99801 Puntalobos, España"),
    ("inigo", "Íñigo", "Costurillas", "inigo@costurillas.example", "es", "", "Plaza de la Aguja 2, 99802 Bordajes, España"),
    ("amparo", "Amparo", "Bordavega", "amparo.bordavega@correo.example", "es", "+44 7700 900864", "Camino Viejo 15, 99803 Telares, España"),
    ("nieves", "Nieves", "Puntalarga", "nieves.puntalarga@buzon.example", "es", "", "Avenida del Carrete 90, 99801 Puntalobos, España"),
    ("xavier", "Xavier", "Dedalmar", "xdedalmar@buzon.example", "es", "", "Cuesta del Hilo 33, 99804 Madejar, España"),
    ("ornella", "Ornella", "Cucivento", "ornella.cucivento@posta.example", "it", "", "Via del Rocchetto 6, 99701 Orlopoli, Italia"),
    ("gaspare", "Gaspare", "Filodoro", "g.filodoro@cassetta.example", "it", "", "Corso Imbastitura 14, 99702 Trapunta, Italia"),
    ("gunhild", "Gunhild", "Trådmark", "gunhild.tradmark@brev.example", "sv", "", "Spolvägen 9, 999 91 Nålby, Sverige"),
    ("ake", "Åke", "Sömlund", "ake@somlund.example", "sv", "", "Fållgatan 2, 999 92 Garnköping, Sverige"),
    ("ingrid", "Ingrid", "Vävström", "ingrid.vavstrom@brev.example", "sv", "", "Knappgränd 17, 999 93 Tygsta, Sverige"),
    # Known from the old mailbox and the Maildir.
    ("elspeth", "Elspeth", "Cordwain", "elspeth.cordwain@letterbox.example", "en", "01632 960033", "Mill House, Tressey, United Kingdom"),
    ("leopold", "Leopold", "Kettelstich", "leopold.kettelstich@postamt.example", "de", "", "Schneiderberg 1, 99992 Kantenau, Deutschland"),
    ("solange", "Solange", "Mirepiqué", "solange.mirepique@courrier.example", "fr", "", "5 allée des Canevas, 99906 Broderac, France"),
    ("bram", "Bram", "Stiksma", "bram.stiksma@postvak.example", "nl", "", "Patroonlaan 48, 9994 TF Stikhuizen, Nederland"),
    ("consuelo", "Consuelo", "Ojalvera", "consuelo.ojalvera@correo.example", "es", "", "Ronda del Botón 12, 99805 Entretela, España"),
    ("tilda", "Tilda", "Knapphed", "tilda.knapphed@brev.example", "sv", "", "Sömmerskestigen 3, 999 94 Tygsta, Sverige"),
    ("fiammetta", "Fiammetta", "Asolapura", "fiammetta@asolapura.example", "it", "", "Vicolo Cieco 9, 99703 Orlopoli, Italia"),
    ("winifred", "Winifred", "Hasp", "winifred.hasp@postbox.example", "en", "07700 900409", "Signal Cottage, Port Carrow, United Kingdom"),
    ("quentin", "Quentin", "Bobbinet", "q.bobbinet@courrier.example", "fr", "", "19 sente du Métier, 99902 Filanges, France"),
    ("ursel", "Ursel", "Biesenthal-Knopp", "ursel.bk@briefkasten.example", "de", "", "Hinterm Deich 6, 99993 Bandhafen, Deutschland"),
    ("delphine", "Delphine", "Ganseroy", "delphine.ganseroy@boiteauxlettres.example", "fr", "", "2 cour des Tisserands, 99903 Couture-sur-Lys, France"),
    ("piet", "Piet", "Rijgdraad", "piet.rijgdraad@brievenbus.example", "nl", "", "Vingerhoedhof 5, 9993 SG Zoomerveen, Nederland"),
    ("mercedes", "Mercedes", "Pespunteiro", "mercedes.pespunteiro@buzon.example", "es", "", "Travesía del Ovillo 1, 99806 Costalina, España"),
    ("theobald", "Theobald", "Nockenfuß", "theobald@nockenfuss.example", "de", "", "Triftweg 30, 99991 Unterstich, Deutschland"),
)  # fmt: skip

PEOPLE = {row[0]: Person(*row) for row in _PEOPLE}


@dataclass(frozen=True)
class Machine:
    """A machine by its type plate and the machine ID of its present main board."""

    key: str
    maker: Maker
    model: str
    machine_id: str
    serial_number: str


def machine(key: str, maker: str, model: int = 0, board: int = 1) -> Machine:
    """Return the machine of that key; ``board`` counts main boards: the ID changes, the serial number stays."""
    made = MAKERS[maker]
    return Machine(
        key,
        made,
        made.models[model],
        draw_code(made.shapes["machine_id"], f"{key}/board/{board}"),
        draw_code(made.shapes["serial_number"], f"{key}/plate"),
    )


@dataclass(frozen=True)
class Confirmation:
    """What a maker confirms. ``values`` maps kinds to values as written, in the order they are listed."""

    person: Person
    machine: Machine
    offer: Offer
    language: str
    sent: datetime
    values: dict[str, str]
    normals: dict[str, str]
    labels: int = 0

    def only(self, *kinds: str) -> Confirmation:
        """Return the confirmation with these kinds only."""
        return replace(self, values={k: v for k, v in self.values.items() if k in kinds})

    def without(self, *kinds: str) -> Confirmation:
        """Return the confirmation without these kinds."""
        return replace(self, values={k: v for k, v in self.values.items() if k not in kinds})

    def having(self, **changed: str) -> Confirmation:
        """Return the confirmation with other values; their normal forms follow."""
        normals = {k: normal(k, v) for k, v in changed.items()}
        return replace(self, values=self.values | changed, normals=self.normals | normals)

    def label(self, kind: str) -> str:
        """Return the label the maker uses."""
        return words.label(self.language, kind, self.machine.maker.name, self.labels)

    @property
    def rows(self) -> list[tuple[str, str]]:
        """Label and value of everything confirmed."""
        return [(self.label(k), v) for k, v in self.values.items()]

    @property
    def facts(self) -> dict[str, str]:
        """Kinds and normal forms of everything confirmed."""
        return {k: self.normals[k] for k in self.values}

    def say(self, word: str) -> str:
        """Return one of the maker's sentences."""
        return words.say(self.language, word, self.machine.maker.name).format(
            maker=self.machine.maker.name,
            name=self.person.name,
            upgrade=self.offer.names[self.language],
            model=self.machine.model,
        )


_ALL = frozenset(words.ORDER)
#: What a maker confirms when nothing else is said.
USUAL = _ALL - {
    "phone_number",
    "postal_address",
    "invoice_number",
    "purchase_date",
    "firmware_version",
    "serial_number",
}


def normal(kind: str, value: str) -> str:
    """Return the normal form of a value as the samples' clerk writes it."""
    text = unicodedata.normalize("NFKC", value)
    if kind in ("machine_id", "serial_number", "product_key", "activation_code", "invoice_number"):
        return re.sub("[^A-Z0-9]", "", text.upper())
    if kind == "email_address":
        return text.lower()
    if kind == "phone_number":
        digits = re.sub(r"\D", "", text)
        return "+" + digits if text.startswith("+") else "+44" + digits.removeprefix("0")
    if kind == "firmware_version":
        return re.sub("[^0-9.]", "", text)
    return " ".join(text.split())


@dataclass(frozen=True)
class Extra:
    """Choices of one confirmation: what it lists, how dates are written, who is named, which key."""

    more: str = ""
    less: str = ""
    dates: str = ""
    bought: date | None = None
    bought_form: str = ""
    labels: int = 0
    firmware: str = ""
    key_of: str = ""
    code_of: str = ""
    email: str = ""
    name: str = ""
    language: str = ""
    fixed: dict[str, str] = field(default_factory=dict)


def confirm(person: str, thing: Machine, offer: int, sent: datetime, extra: Extra | None = None) -> Confirmation:
    """Make the confirmation that the maker sends when the person activates an upgrade on the machine."""
    extra = extra or Extra()
    who = PEOPLE[person]
    language = extra.language or who.language
    bought_upgrade = thing.maker.offers[offer]
    maker = thing.maker
    key_seed = extra.key_of or f"{thing.key}/{offer}"
    key = draw_code(maker.shapes["product_key"], f"key/{key_seed}", bought_upgrade.prefix)
    code = draw_code(maker.shapes["activation_code"], f"code/{extra.code_of or thing.machine_id + key}")
    bought = extra.bought or sent.date()
    dates = {
        "purchase_date": (bought, extra.bought_form or extra.dates),
        "registration_date": (sent.date(), extra.dates),
    }
    written = {
        "customer_name": extra.name or who.name,
        "email_address": extra.email or who.email,
        "phone_number": who.phone,
        "postal_address": who.address,
        "maker": maker.name,
        "model": thing.model,
        "serial_number": thing.serial_number,
        "machine_id": thing.machine_id,
        "upgrade_name": bought_upgrade.names[language],
        "product_key": key,
        "activation_code": code,
        "firmware_version": extra.firmware or bought_upgrade.needs,
        "invoice_number": f"{maker.name[:2].upper()}-{sent.year}-{int(draw_code(MAKERS['Vesterlyng'].shapes['activation_code'], key)[:4]):05d}",
    }
    written |= {k: words.short_date(language, day, form) for k, (day, form) in dates.items()} | extra.fixed
    wanted = (USUAL | set(extra.more.split())) - set(extra.less.split())
    values = {k: written[k] for k in words.ORDER if k in wanted and written[k]}
    normals = {k: dates[k][0].isoformat() if k in dates else normal(k, v) for k, v in written.items() if v}
    # An upgrade has one name in the maker's pattern file; its names in other languages stand for the same thing.
    normals["upgrade_name"] = written["upgrade_name"] if maker is MAKERS["Tindavar"] else bought_upgrade.names["en"]
    return Confirmation(who, thing, bought_upgrade, language, sent, values, normals, extra.labels)
