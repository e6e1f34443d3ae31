"""How fast mail comes from a mail server: dovecot on loopback, the line cut three times, beside bare IMAPClient.

Needs root and the package dovecot-imapd. Floor: the same messages fetched by IMAPClient alone, kept nowhere; beside it
an ingest of the same messages from files, which reads and files them as well.

python tests/bench/bench_imap.py [--messages 5000]
"""

from __future__ import annotations

import argparse
import hashlib
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from confirmations import confirmations
from imap_world import FOLDER, PASSWORD, Server, dovecot, has_dovecot, line

from counterfoil import mailbox, pipeline
from counterfoil.archive import Archive
from counterfoil.settings import Settings
from counterfoil.sources import Received

CUTS = 3


def bare(server: Server) -> float:
    """Return the seconds that IMAPClient takes to fetch the folder, in pieces as large as ours."""
    from counterfoil.sources.imap import CHUNK_MESSAGES

    start = time.perf_counter()
    with server.client() as client:
        client.select_folder(FOLDER, readonly=True)
        uids = client.search()
        for at in range(0, len(uids), CHUNK_MESSAGES):
            for item in client.fetch(uids[at : at + CHUNK_MESSAGES], ["BODY.PEEK[]"]).values():
                assert item[b"BODY[]"]
    return time.perf_counter() - start


def alone(archive: Archive, server: Server) -> float:
    """Return the seconds that our source takes to hand all messages out, kept nowhere."""
    start = time.perf_counter()
    with mailbox.opened(archive, server.address(), PASSWORD) as folder:
        assert all(isinstance(item, Received) for item in folder.messages(0))
        assert folder.lost is None
    return time.perf_counter() - start


def cut(archive: Archive, server: Server, size: int) -> float:
    """Return the seconds of an ingest over a line that drops three times; each drop must have hit it."""
    start = time.perf_counter()
    with line(server.port) as between:
        address = server.address(between.port)
        for number in range(CUTS):
            between.drop_after = size // (CUTS + 1)
            report, lost = mailbox.fetch(archive, address, PASSWORD)
            assert lost is not None
            print(f"  cut {number + 1}: {report.new} messages kept before it", flush=True)
        report, lost = mailbox.fetch(archive, address, PASSWORD)
        assert lost is None
        print(f"  the rest: {report.new}", flush=True)
    return time.perf_counter() - start


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--messages", type=int, default=5_000)
    number = parser.parse_args().messages
    if not has_dovecot():
        sys.exit("This needs root and the package dovecot-imapd.")
    messages = [c.data.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n") for c in confirmations(number, pdf_share=0.5)]
    size = sum(map(len, messages))
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "server").mkdir()
        with dovecot(place / "server") as server:
            server.deliver(messages)
            floor = bare(server)
            archive = Archive.create(place / "archive", shop_name="Bench")
            archive.settings = Settings(imap_ca_file=str(server.authority))
            ours = cut(archive, server, size)
            kept = sorted(archive.originals.hashes())
            assert kept == sorted({hashlib.sha256(data).hexdigest() for data in messages}), "lost or changed"
            assert archive.store.message_count() == len(kept), "twice"
            source = min(alone(archive, server) for _ in range(2))
            floor = min(floor, bare(server))
        archive.close()
        box = place / "box"
        box.mkdir()
        for at, data in enumerate(messages):
            (box / f"{at:05}.eml").write_bytes(data)
        archive = Archive.create(place / "files", shop_name="Bench")
        start = time.perf_counter()
        pipeline.ingest(archive, [str(box)])
        files = time.perf_counter() - start
        archive.close()
    print(f"{number} messages, {size / 1e6:.0f} MB, cut {CUTS} times: {len(kept)} different ones kept, each once")
    print(f"bare IMAPClient fetch       {number / floor:8.0f} messages/s")
    print(
        f"our fetch, kept nowhere     {number / source:8.0f} messages/s   {source / floor:.2f} x the time of bare fetch"
    )
    print(f"ingest from files           {number / files:8.0f} messages/s")
    print(f"ingest from the server      {number / ours:8.0f} messages/s   {ours / files:.2f} x the time from files")


if __name__ == "__main__":
    main()
