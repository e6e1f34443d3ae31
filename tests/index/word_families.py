"""Words of the trade in their forms, by language: each family is one word to somebody who looks for it.

Written for the tests from general knowledge of the languages; the forms are those of any school grammar.
"""

from __future__ import annotations

#: Language -> families; the forms of one family are to find one another, those of two families are not.
FAMILIES: dict[str, tuple[str, ...]] = {
    "en": (
        "warranty warranties", "guarantee guarantees guaranteed", "machine machines", "activation activations",
        "needle needles", "embroidery embroideries", "upgrade upgrades upgraded upgrading", "stitch stitches stitching",
        "repair repairs repaired repairing", "invoice invoices invoiced", "battery batteries", "board boards",
        "customer customers", "forward forwards forwarded forwarding", "purchase purchases purchased purchasing",
        "dealer dealers", "thread threads threaded threading", "hoop hoops", "register registers registered",
        "licence licences",
    ),
    "de": (
        "Garantie Garantien", "Maschine Maschinen", "Aktivierung Aktivierungen", "Nadel Nadeln",
        "Händler Händlern Händlers", "Rechnung Rechnungen", "Schlüssel Schlüsseln Schlüssels", "Kunde Kunden",
        "Stickerei Stickereien", "Platine Platinen", "freischalten freischaltet freischalte", "Gerät Geräte Geräten",
        "Reparatur Reparaturen", "Faden Fadens", "Rahmen Rahmens", "bestätigen bestätigt bestätige",
        "gekauft gekaufte gekauften", "Anleitung Anleitungen", "Zubehör Zubehörs", "Verlängerung Verlängerungen",
    ),
    "fr": (
        "garantie garanties", "machine machines", "activation activations", "activé activée activés activées activer",
        "aiguille aiguilles", "broderie broderies", "facture factures facturé", "réparation réparations",
        "numéro numéros", "achat achats", "revendeur revendeurs", "clé clés", "carte cartes", "mise mises",
        "enregistrer enregistré enregistrée enregistrés", "acheter acheté achetée achetés", "cliente clientes",
        "couture coutures", "brodeuse brodeuses", "confirmer confirmé confirmée",
    ),
    "nl": (
        "garantie garanties", "machine machines", "activering activeringen", "naald naalden", "factuur facturen",
        "sleutel sleutels", "klant klanten", "borduurmodule borduurmodules", "reparatie reparaties",
        "aankoop aankopen", "verlenging verlengingen", "bevestiging bevestigingen", "draad draden",
        "printplaat printplaten", "registratie registraties", "naaimachine naaimachines", "code codes",
        "kaart kaarten", "winkel winkels", "handleiding handleidingen",
    ),
    "es": (
        "garantía garantías", "máquina máquinas", "activación activaciones", "aguja agujas", "factura facturas",
        "bordado bordados", "clave claves", "reparación reparaciones", "cliente clientes", "compra compras",
        "activar activado activada activados", "tarjeta tarjetas", "registro registros", "código códigos",
        "número números", "distribuidor distribuidores", "confirmación confirmaciones", "bastidor bastidores",
        "actualización actualizaciones", "placa placas",
    ),
    "it": (
        "garanzia garanzie", "macchina macchine", "attivazione attivazioni", "ago aghi", "fattura fatture",
        "ricamo ricami", "chiave chiavi", "riparazione riparazioni", "cliente clienti", "acquisto acquisti",
        "attivare attivato attivata attivati", "scheda schede", "codice codici", "numero numeri",
        "rivenditore rivenditori", "conferma conferme", "telaio telai", "aggiornamento aggiornamenti",
        "registrazione registrazioni", "proroga proroghe",
    ),
    "sv": (
        "garanti garantin garantier", "symaskin symaskiner symaskinen", "aktivering aktiveringar aktiveringen",
        "nål nålar nålen", "faktura fakturor fakturan", "nyckel nycklar nyckeln", "kund kunder kunden",
        "reparation reparationer reparationen", "kvitto kvitton kvittot", "broderi broderier broderiet",
        "kretskort kretskortet kretskorten", "köp köpet köpen", "uppgradering uppgraderingar uppgraderingen",
        "förlängning förlängningar förlängningen", "kod koder koden", "handlare handlaren", "kort kortet korten",
        "bekräftelse bekräftelser bekräftelsen", "butik butiker butiken", "tråd trådar tråden",
    ),
    "da": (
        "garanti garantien garantier", "symaskine symaskiner symaskinen", "kvittering kvitteringer kvitteringen",
        "nøgle nøgler nøglen", "kunde kunder kunden", "faktura fakturaer fakturaen", "kode koder koden",
        "aktivering aktiveringer aktiveringen", "reparation reparationer", "nål nåle nålen", "køb købet",
        "opgradering opgraderinger opgraderingen",
    ),
    "nb": (
        "garanti garantien garantier", "symaskin symaskiner symaskinen", "kvittering kvitteringer kvitteringen",
        "nøkkel nøkler nøkkelen", "kunde kunder kunden", "faktura fakturaer fakturaen", "kode koder koden",
        "aktivering aktiveringer aktiveringen", "reparasjon reparasjoner", "nål nåler nålen", "kjøp kjøpet",
        "oppgradering oppgraderinger oppgraderingen",
    ),
    "pt": (
        "garantia garantias", "máquina máquinas", "ativação ativações", "agulha agulhas", "fatura faturas",
        "bordado bordados", "chave chaves", "reparação reparações", "cliente clientes", "compra compras",
        "ativar ativado ativada ativados", "código códigos", "número números", "confirmação confirmações",
    ),
    "pl": (
        "gwarancja gwarancji gwarancje gwarancję", "maszyna maszyny maszynę maszyn", "igła igły igłę",
        "aktywacja aktywacji aktywację", "faktura faktury fakturę", "klucz klucze klucza", "klient klienta klienci",
        "kod kody kodu", "naprawa naprawy naprawę", "haft haftu hafty", "zakup zakupu zakupy", "numer numery numeru",
    ),
    "cs": (
        "záruka záruky záruku", "stroj stroje strojů", "aktivace aktivaci", "jehla jehly jehlu",
        "faktura faktury fakturu", "klíč klíče klíčů", "zákazník zákazníka zákazníci", "kód kódy kódu",
        "oprava opravy opravu", "nákup nákupu nákupy", "číslo čísla čísel",
    ),
    "fi": (
        "takuu takuun takuuta", "ompelukone ompelukoneen ompelukoneet", "aktivointi aktivoinnin", "neula neulan neulat",
        "lasku laskun laskut", "avain avaimen avaimet", "asiakas asiakkaan asiakkaat", "koodi koodin koodit",
        "korjaus korjauksen korjaukset", "osto oston ostot", "numero numeron numerot",
    ),
}  # fmt: skip

#: A compound, and the part by which somebody may look for it: no stemming joins the two.
COMPOUNDS: dict[str, tuple[tuple[str, str], ...]] = {
    "de": (
        ("Garantieverlängerung", "Garantie"), ("Stickmodul", "Modul"), ("Nähmaschine", "Maschine"),
        ("Freischaltcode", "Freischaltung"), ("Hauptplatine", "Platine"), ("Kaufbeleg", "Kauf"),
    ),
    "nl": (
        ("garantieverlenging", "garantie"), ("naaimachine", "machine"), ("activeringscode", "activering"),
        ("borduurmodule", "module"), ("aankoopbewijs", "aankoop"), ("moederbord", "bord"),
    ),
    "sv": (
        ("garantiförlängning", "garanti"), ("symaskin", "maskin"), ("aktiveringskod", "aktivering"),
        ("moderkort", "kort"), ("produktnyckel", "nyckel"), ("inköpsdatum", "inköp"),
    ),
}  # fmt: skip
