"""Photos from the mail to the profile: read in a process of its own, left open, looked at, confirmed."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path

import pytest
from cards import cards, draw, mail, saved
from conftest import sample_archive
from PIL import Image

from counterfoil import pipeline
from counterfoil.answers.asked import answer
from counterfoil.archive import Archive
from counterfoil.faces.cli import run
from counterfoil.model import CODE_KINDS, Kind, MessageRecord, Standing
from counterfoil.patterns.normal import normal_code

TRUTH = {"machine_id": "KT4-7729-31", "product_key": "HD3K-9WQ2-7TRM", "activation_code": "88213-44729-22911"}
CARDS, SCANS = 50, 20


def ingest(archive: Archive, folder: Path, *mails: bytes) -> list[MessageRecord]:
    """Take mails in; return their records in order."""
    folder.mkdir(exist_ok=True)
    for number, data in enumerate(mails):
        (folder / f"{number:03}.eml").write_bytes(data)
    pipeline.ingest(archive, [str(folder)])
    return sorted(archive.store.messages(), key=lambda m: m.source)


def test_a_photo_is_looked_at_and_confirmed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The codes of a photo are open questions; the desk gets the pieces of the picture, confirms, and it is filed."""
    archive = Archive.create(tmp_path / "archive", shop_name="Threadworks")
    card = draw(TRUTH, "Marit Solvang", size=34).rotate(90, expand=True)
    (record,) = ingest(archive, tmp_path / "in", mail(("card.jpg", saved(card, "JPEG"))))
    archive.close()
    assert record.standing is Standing.OPEN
    assert [q.code for q in record.questions].count("code_read_by_eye") == 3
    offered = [answer(q.candidates[0], record) for q in record.questions if q.code == "code_read_by_eye"]
    given = {a.value for a in offered if a is not None}
    assert given == {(Kind(kind), value) for kind, value in TRUTH.items()}
    desk = ["--archive", str(tmp_path / "archive")]
    assert run(["triage", "show", "E1", *desk]) == 0
    shown = capsys.readouterr().out
    assert "--reveal" in shown and TRUTH["product_key"] not in shown
    look = ["--reveal", "--reason", "look", "--out", str(tmp_path / "look"), "--json", "--who", "kim"]
    assert run(["triage", "show", "E1", *desk, *look]) == 0
    files = [Path(name) for name in json.loads(capsys.readouterr().out)["files"]]
    pieces = {p.name: Image.open(BytesIO(p.read_bytes())).size for p in files if p.suffix == ".png"}
    assert sorted(pieces) == ["E1-activation-code.png", "E1-machine-id.png", "E1-product-key.png"]
    assert all(width > 2 * height for width, height in pieces.values()), "the pieces stand upright"
    said = [f"--set={kind}={value}" for kind, value in TRUTH.items()]
    said += ["--set=customer_name=Marit Solvang", "--why", "looked", "--who", "kim"]
    assert run(["triage", "settle", "E1", *desk, "--customer", "new", *said]) == 0
    archive = Archive(tmp_path / "archive")
    machine = archive.store.machine("M1")
    assert {k: machine.values(Kind(k))[0] for k in TRUTH} == TRUTH
    archive.close()


@pytest.mark.long
@pytest.mark.parametrize(("name", "form", "number"), [("card.jpg", "JPEG", CARDS), ("scan.pdf", "PDF", SCANS)])
def test_poor_photos_and_scans(tmp_path: Path, name: str, form: str, number: int) -> None:
    """Of the codes on poor photos, and on PDF pages that are pictures, nine in ten are proposed; none is filed."""
    archive = sample_archive(tmp_path / "archive")
    drawn = list(cards(number, seed=7))
    records = ingest(archive, tmp_path / "in", *(mail((name, saved(c.image, form, quality=40))) for c in drawn))
    archive.close()
    proposed = 0
    for card, record in zip(drawn, records, strict=True):
        for noted in record.facts:
            truth = normal_code(card.truth.get(noted.fact.kind.value, ""))
            if noted.chosen and noted.fact.kind in CODE_KINDS:
                proposed += truth in (noted.fact.normal, *map(normal_code, noted.fact.readings))
    assert proposed >= 0.9 * 3 * number, f"{proposed} of {3 * number}"
    assert [r.id for r in records if r.standing is Standing.FILED] == []
