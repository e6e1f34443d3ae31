"""The patterns as one object: loaded once, then it reads messages, checks values typed by staff, and proves itself."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from types import MappingProxyType

from counterfoil.errors import SettlementRefused
from counterfoil.model import (
    CODE_KINDS,
    DATE_KINDS,
    SECRET_KINDS,
    SOLD_SINCE,
    Check,
    Document,
    Fact,
    Kind,
    Message,
    Place,
    Reading,
)
from counterfoil.patterns import odds
from counterfoil.patterns.confirmation import confirmation_layer, judge, language_of
from counterfoil.patterns.contacts import envelope_facts
from counterfoil.patterns.dates import read_date
from counterfoil.patterns.exact import note_exact, runs_in_address
from counterfoil.patterns.found import Found, Span
from counterfoil.patterns.layout import View, make_view
from counterfoil.patterns.lookalikes import offer_corrections
from counterfoil.patterns.makers import MakerPattern, load_makers
from counterfoil.patterns.names import fold_name
from counterfoil.patterns.normal import normal, normal_code, normal_email, normal_phone, normal_text, normal_version
from counterfoil.patterns.proofs import ProofFailure, check_proof, plain_document
from counterfoil.patterns.quoting import for_someone_else, quotes_another
from counterfoil.patterns.read_codes import Known, labelled_codes, shaped_codes
from counterfoil.patterns.read_values import Context, labelled_values, named_values
from counterfoil.patterns.recognise import by_sender, readable, recognised, sender_facts, subject_facts
from counterfoil.patterns.redact import redact
from counterfoil.patterns.shapes import Shape
from counterfoil.patterns.together import doubt_lone, keep_together
from counterfoil.patterns.vocabulary import Vocabulary, load_vocabularies, make_wordbook
from counterfoil.patterns.weigh import weigh
from counterfoil.patterns.words import Role
from counterfoil.settings import Settings

_SIGNATURE = re.compile(r"^-- ?$", re.MULTILINE)
"""RFC 3676, section 4.3: the line that parts text and signature."""


class Patterns:
    """Vocabulary of all languages and the makers of one archive.

    Args:
        vocabularies: the languages.
        makers: the makers.
    """

    def __init__(self, vocabularies: Sequence[Vocabulary], makers: Sequence[MakerPattern]) -> None:
        self.vocabularies = tuple(vocabularies)
        self.makers = tuple(makers)
        self._words = make_wordbook(self.vocabularies, self.makers)
        self._shapes = tuple(shape for maker in self.makers for shape in maker.shapes.values())

    @classmethod
    def load(cls, folder: Path | None) -> Patterns:
        """Load the packaged vocabulary and a shop's maker files.

        Args:
            folder: where the maker files are (``*.toml``); None or a missing folder gives no makers.

        Raises:
            PatternFaulty: a file is wrong.
        """
        return cls(load_vocabularies(), load_makers(folder))

    def maker(self, name: str) -> MakerPattern | None:
        """Return the maker of that name or other spelling, whatever its case; None where no file describes it."""
        return next((maker for maker in self.makers if maker.is_called(name)), None)

    def view(self, document: Document) -> View:
        """Return a document with its labels and known phrases."""
        return make_view(document, self._words)

    # --- reading -----------------------------------------------------------------------------------

    def read(self, message: Message, settings: Settings) -> Reading:
        """Read everything a message says.

        Args:
            message: the message with its documents.
            settings: the shop's own addresses, region of telephone numbers, limits.
        """
        views = [make_view(document, self._words) for document in readable(message)]
        senders = by_sender(message, self.makers)
        near = _day(message, len(message.layers) - 1)
        context = Context(self.makers, frozenset(), settings.region, near)
        named = [value.normal for view in views for value in self._makers_labelled(view, context)]
        in_subjects = subject_facts(message, self._words.table)
        named += [fact.normal for fact in in_subjects]
        names = recognised(senders, views, [name for name in named if self.maker(name)])
        known = Known(names, self._shapes_of(names), bool(names))
        codes, masks = self._codes(views, known)
        if known.recognised:
            offer_corrections(codes, known.shapes)
        else:
            doubt_lone(codes)
            # Without a maker only a check digit tells that a correction is right.
            checked = [shape for shape in known.shapes if shape.check_name not in ("", "none")]
            offer_corrections([code for code in codes if code.document.turns], checked)
        too_many = len(codes) > settings.limits.facts
        codes = codes[: settings.limits.facts]
        layer = confirmation_layer(message, views, codes, senders.keys())
        context = Context(self.makers, names or _makers_of(codes), settings.region, _day(message, layer))
        sources = self._customer_documents(views, codes, layer, senders)
        values = self._values(views, context, sources)[: settings.limits.facts]
        keep_together(codes, values, message.layers, senders.keys())
        note_exact(codes, message.documents)
        facts = [value.fact() for value in (*codes, *values) if self._is_customers(value, settings)]
        facts += sender_facts(senders, message) + in_subjects
        facts += self._envelope(message, layer, codes, facts, settings, for_someone_else(views))
        every, chosen, conflicts = weigh([self._dated(fact, names or _makers_of(codes)) for fact in facts])
        judgement = judge(message, views, codes, senders, self._words.table, too_many)
        return Reading(
            every,
            MappingProxyType(chosen),
            MappingProxyType(conflicts),
            judgement.odds,
            judgement.signs,
            layer,
            judgement.mentions_attachment,
            language_of([view for view in views if view.document.layer == layer]) or language_of(views),
            MappingProxyType(self._redacted(message, codes, masks, known)),
        )

    def _dated(self, fact: Fact, names: Collection[str]) -> Fact:
        """Return a model with since when it is sold among its evidence, where the file of its maker says so."""
        if fact.kind is not Kind.MODEL:
            return fact
        days = (maker.since.get(fact.normal) for maker in self.makers if maker.name in names)
        since = next((day for day in days if day is not None), None)
        return fact if since is None else replace(fact, evidence=(*fact.evidence, f"{SOLD_SINCE}{since}"))

    @staticmethod
    def _codes(views: Sequence[View], known: Known) -> tuple[list[Found], dict[str, list[Span]]]:
        """Read the codes of all documents; also return, by document, the spans of what must be masked."""
        codes: list[Found] = []
        masks: dict[str, list[Span]] = {}
        denied: dict[str, frozenset[Kind]] = {}
        for view in views:
            found, secret, denied[view.document.name] = labelled_codes(view, known)
            codes.extend(found)
            masks.setdefault(view.document.name, []).extend(secret)
        if known.shapes:
            for view in views:
                codes.extend(shaped_codes(view, known, list(codes), denied[view.document.name]))
        return codes, masks

    def _redacted(
        self, message: Message, codes: Sequence[Found], masks: dict[str, list[Span]], known: Known
    ) -> dict[str, str]:
        """Mask every key and code: where it was read, in a maker's shape, and wherever it is written again.

        Subjects are masked, too, under the names of their headers.
        """
        secrets = [code.normal for code in codes if code.kind in SECRET_KINDS]
        for code in codes:
            if code.kind in SECRET_KINDS:
                masks.setdefault(code.document.name, []).extend(code.pieces)
        for document in message.documents:
            secrets.extend(normal_code(document.text[s:e]) for s, e in masks.get(document.name, ()))
        for document in message.documents:
            if document.name.startswith("link:"):
                masks[document.name] = runs_in_address(document.text)
        subjects = [plain_document(layer.subject, f"headers:{n}", n) for n, layer in enumerate(message.layers)]
        for subject in subjects:
            masks[subject.name] = labelled_codes(make_view(subject, self._words), known)[1]
        return redact([*message.documents, *subjects], masks, secrets, self._shapes)

    def _makers_labelled(self, view: View, context: Context) -> list[Found]:
        if not any(
            s.kind is Kind.MAKER and s.role is Role.LABEL for label in view.labels for s in label.meaning.senses
        ):
            return []
        values = labelled_values(view, context, customer=False, until=0)
        return [value for value in values if value.kind is Kind.MAKER]

    def _shapes_of(self, names: frozenset[str]) -> tuple[Shape, ...]:
        """Return the shapes of the makers recognised; of all makers where none was."""
        if not names:
            return self._shapes
        return tuple(shape for shape in self._shapes if shape.maker in names)

    @staticmethod
    def _customer_documents(
        views: Sequence[View], codes: Sequence[Found], layer: int, senders: Collection[int]
    ) -> frozenset[str]:
        """Return the documents that may speak of the customer: those of the confirmation, not the forwarder's own text.

        A mail a customer wrote with the confirmation attached says things about its writer: of such a mail only
        documents with codes count.
        """
        names = frozenset(view.document.name for view in views if view.document.layer == layer)
        with_codes = frozenset(code.document.name for code in codes if code.odds >= odds.MENTIONED_FROM)
        return names if layer > 0 or layer in senders or not names & with_codes else names & with_codes

    def _values(self, views: Sequence[View], context: Context, sources: frozenset[str]) -> list[Found]:
        """Read all facts that are no codes; a labelled value outranks a name that merely stands in the text."""
        labelled: list[Found] = []
        named: list[Found] = []
        for view in views:
            customer = view.document.name in sources
            labelled += labelled_values(view, context, customer=customer, until=_signature(view))
            named += named_values(view, context.names)
        spoken = {(value.kind, value.normal) for value in labelled}
        kinds = {value.kind for value in labelled}
        return labelled + [v for v in named if v.kind not in kinds or (v.kind, v.normal) in spoken]

    def _is_customers(self, value: Found, settings: Settings) -> bool:
        """Tell whether a value may be a fact: name and addresses of shop and makers are not the customer's."""
        if value.kind is Kind.CUSTOMER_NAME:
            return fold_name(value.normal) != fold_name(settings.shop_name) and self.maker(value.normal) is None
        shop = {address.lower() for address in settings.shop_addresses}
        return value.kind is not Kind.EMAIL_ADDRESS or not (value.normal in shop or self._is_makers(value.normal))

    def _is_makers(self, address: str) -> bool:
        return any(maker.sends_from(address) for maker in self.makers)

    def _envelope(
        self,
        message: Message,
        layer: int,
        codes: Sequence[Found],
        facts: Sequence[Fact],
        settings: Settings,
        someone_else: bool,
    ) -> list[Fact]:
        by_hand = [code for code in codes if code.document.layer == layer]
        shop = {address.lower() for address in settings.shop_addresses}
        names = (settings.shop_name, *(maker.name for maker in self.makers))
        someone_else = someone_else or quotes_another(
            by_hand, message, lambda a: a in shop or self._is_makers(a), names
        )
        return envelope_facts(
            message,
            layer,
            is_maker=self._is_makers,
            shop=shop,
            typed=layer == 0
            and len(message.layers) == 1
            and bool(by_hand)
            and all(code.document.name.startswith("body") for code in by_hand),
            labelled_name=any(fact.kind is Kind.CUSTOMER_NAME for fact in facts),
            someone_else=someone_else,
        )

    # --- values typed by staff ----------------------------------------------------------------------

    def make_fact(
        self,
        kind: Kind,
        value: str,
        *,
        maker: str | None = None,
        pattern: str = "entered by hand",
        near: date | None = None,
        region: str = "GB",
    ) -> Fact:
        """Make a fact of a value a person typed, with the same checks as for one read.

        Args:
            kind: what it says.
            value: as typed.
            maker: the maker's name; without one the single maker whose shape and check digit fit is taken.
            pattern: named as the fact's pattern.
            near: the day by which an ambiguous date is read.
            region: ISO 3166-1 code for telephone numbers without a country code.

        Returns:
            The fact; its check is FAILED and its odds are below 0 where the check digit is wrong, its odds are low
            where the value is not in the named maker's shape.

        Raises:
            SettlementRefused: the text holds no value of that kind.
        """
        text = normal_text(value)
        place = Place(pattern)
        if kind in CODE_KINDS:
            return self._code_fact(kind, text, maker, place, pattern)
        if kind in DATE_KINDS:
            return _date_fact(kind, text, near, place, pattern)
        if not _is_value(kind, text, region):
            raise SettlementRefused(f"“{text}” is no {kind.replace('_', ' ')}.", "Correct the value and try again.")
        plain = normal(kind, text, region)
        found = self.maker(text if kind is Kind.MAKER else maker or "")
        if found is not None and kind is Kind.MAKER:
            plain = found.name
        if found is not None and kind is Kind.UPGRADE_NAME and (upgrade := found.upgrade(text)) is not None:
            plain = upgrade.name
        if found is not None and kind is Kind.MODEL:
            plain = found.model(text) or plain
        made = Fact(kind, text, plain, place, pattern, odds=odds.ENTERED)
        return made if found is None else self._dated(made, (found.name,))

    def _code_fact(self, kind: Kind, text: str, maker: str | None, place: Place, pattern: str) -> Fact:
        plain = normal_code(text)
        if len(plain) < 4:
            raise SettlementRefused(f"“{text}” is no {kind.replace('_', ' ')}.", "Correct the value and try again.")
        named = self.maker(maker) if maker else None
        fact = Fact(kind, text, plain, place, pattern, odds=odds.ENTERED)
        if named is not None:
            shape = named.shapes.get(kind)
            if shape is not None and not shape.fits(plain):
                why = f"not in {named.name}'s shape {shape.text}"
                return replace(fact, odds=odds.ENTERED_ODD, evidence=(why,))
        else:
            fitting = [s for s in self._shapes if s.kind is kind and s.fits(plain)]
            passing = [s for s in fitting if s.check(plain) is Check.PASSED]
            candidates = passing or fitting
            shape = candidates[0] if len({s.maker for s in candidates}) == 1 else None
        if shape is None:
            return fact
        result = shape.check(plain)
        if result is Check.FAILED:
            why = f"check digit wrong ({shape.maker}, {shape.check_name})"
            return replace(fact, check=result, odds=odds.ENTERED + 2 * odds.CHECK_FAILED, evidence=(why,))
        return replace(fact, check=result, evidence=(f"{shape.maker}'s shape {shape.text}",))

    # --- proofs ------------------------------------------------------------------------------------

    def check_proofs(self) -> list[ProofFailure]:
        """Run every found and not-found example of every vocabulary and maker file.

        Returns:
            What failed, empty if nothing did. A maker's examples are read as if only this maker were known.
        """
        failures: list[ProofFailure] = []
        settings = Settings()
        plain = Patterns(self.vocabularies, ())
        for vocabulary in self.vocabularies:
            for proof in vocabulary.proofs:
                failure = check_proof(proof, partial(plain.read, settings=settings), settings.region)
                failures += [failure] if failure else []
        for maker in self.makers:
            own = Patterns(self.vocabularies, (maker,))
            for proof in maker.proofs:
                failure = check_proof(proof, partial(own.read, settings=settings), settings.region)
                failures += [failure] if failure else []
        return failures


def _date_fact(kind: Kind, text: str, near: date | None, place: Place, pattern: str) -> Fact:
    reading = read_date(text, near=near)
    if reading.best is None:
        raise SettlementRefused(f"“{text}” is no date.", "Write it as 2026-04-03.")
    readings = tuple(day.isoformat() for day in reading.readings) if len(reading.readings) > 1 else ()
    worth = odds.ENTERED_ODD if readings else odds.ENTERED
    return Fact(kind, text, reading.best.isoformat(), place, pattern, odds=worth, readings=readings)


def _is_value(kind: Kind, text: str, region: str) -> bool:
    """Tell whether a typed text holds a value of its kind."""
    if kind is Kind.EMAIL_ADDRESS:
        return normal_email(text) is not None
    if kind is Kind.PHONE_NUMBER:
        return normal_phone(text, region) is not None
    if kind is Kind.FIRMWARE_VERSION:
        return bool(normal_version(text))
    return any(c.isalnum() for c in text)


def _makers_of(codes: Sequence[Found]) -> frozenset[str]:
    """Return the maker whose shapes and check digits the codes of a message have, where it is a single one."""
    names = frozenset(code.maker for code in codes if code.maker and code.check is Check.PASSED)
    return names if len(names) == 1 else frozenset()


def _day(message: Message, layer: int) -> date | None:
    """Return the day a layer was sent; of the message itself where the layer does not tell."""
    sent = message.layers[layer].date or message.head.date
    return sent.date() if sent else None


def _signature(view: View) -> int:
    """Return where a text's signature starts: at the signature line or at words of parting; never on a page."""
    if view.document.pages:
        return len(view.text)
    line = _SIGNATURE.search(view.text)
    end = line.start() if line else len(view.text)
    for hit in view.phrases:
        at_line_start = not view.text[view.text.rfind("\n", 0, hit.start) + 1 : hit.start].strip()
        if hit.has(Role.SIGN_OFF) and at_line_start:
            return min(end, hit.start)
    return end
