"""Benches forward to one PostgreSQL: in order, once, whatever falls silent."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine, text
from sqlalchemy.exc import DBAPIError

from rig.events import Corrected, DocumentMade, PersonSignedIn
from rig.journal import Journal, read_journal
from rig.store.audit import audit
from rig.store.copying import back_up, restore
from rig.store.database import Values
from rig.store.forwarding import Forwarder, send_by_hand
from rig.store.shop import ShopDatabase, ShopRefused
from tests.postgres import Server
from tests.rig.recorded import stamped, write
from tests.rig.sequencer.floor import Shift
from tests.rig.store.joined import audited, bench, of_bench, of_shop


class TestForwarding:
    def test_two_benches_join_in_one_shop_each_entry_once(
        self, tmp_path: Path, url: str, shop: Engine, shift: Shift
    ) -> None:
        one, other = bench(tmp_path / "1", shift, "a", "b"), bench(tmp_path / "2", shift, "a")
        for path in (one, other, one):
            send_by_hand(path, url)
        assert of_shop(shop) == sorted(of_bench(one) + of_bench(other))
        with shop.connect() as connection:
            assert audit(ShopDatabase(connection)).broken is None

    def test_what_came_since_is_all_that_is_sent(self, tmp_path: Path, url: str, shift: Shift) -> None:
        path = bench(tmp_path, shift, "a")
        assert send_by_hand(path, url) == len(shift.events)
        assert send_by_hand(path, url) == 0
        bench(tmp_path, shift, "b")
        assert send_by_hand(path, url) == len(shift.events)

    def test_a_sender_that_dies_in_the_middle_leaves_nothing_half_sent(
        self, tmp_path: Path, url: str, shop: Engine, shift: Shift, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        path = bench(tmp_path, shift, "a", "b")
        monkeypatch.setattr("rig.store.carrying._AT_ONCE", 50)
        for deaths in range(1, 4):
            with monkeypatch.context() as cut:
                cut.setattr(ShopDatabase, "run", _dies_after(8 * deaths))
                with pytest.raises(ConnectionError):
                    send_by_hand(path, url)
            there = of_shop(shop)
            assert there == of_bench(path)[: len(there)]
            assert len(there) % 50 == 0
        send_by_hand(path, url)
        assert of_shop(shop) == of_bench(path)

    def test_two_senders_of_one_bench_at_the_same_time_send_each_entry_once(
        self, tmp_path: Path, url: str, shop: Engine, shift: Shift, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("rig.store.carrying._AT_ONCE", 20)
        path = bench(tmp_path, shift, "a", "b", "c")
        counts: list[int] = []
        senders = [threading.Thread(target=lambda: counts.append(send_by_hand(path, url))) for _ in range(3)]
        for one in senders:
            one.start()
        for one in senders:
            one.join()
        assert sum(counts) == 3 * len(shift.events)
        assert of_shop(shop) == of_bench(path)

    def test_a_copied_folder_is_refused_before_anything_is_sent(
        self, tmp_path: Path, url: str, shop: Engine, shift: Shift
    ) -> None:
        path = bench(tmp_path / "1", shift, "a")
        twin = tmp_path / "2" / "journal.sqlite3"
        twin.parent.mkdir()
        twin.write_bytes(path.read_bytes())
        bench(tmp_path / "1", shift, "b")
        bench(tmp_path / "2", shift, "other")
        send_by_hand(path, url)
        with pytest.raises(ShopRefused, match="copied, or put back by hand"):
            send_by_hand(twin, url)
        assert of_shop(shop) == of_bench(path)

    def test_after_a_restore_the_bench_goes_on_and_nothing_collides(
        self, tmp_path: Path, url: str, shop: Engine, shift: Shift
    ) -> None:
        path = bench(tmp_path, shift, "a")
        back_up(path, tmp_path / "copy")
        bench(tmp_path, shift, "b")
        send_by_hand(path, url)
        before = of_shop(shop)
        restore(path, tmp_path / "copy")
        bench(tmp_path, shift, "c")
        assert send_by_hand(path, url) == len(shift.events)
        assert set(before) < set(of_shop(shop))
        with shop.connect() as connection:
            assert audit(ShopDatabase(connection)).broken is None

    def test_a_copy_put_back_at_another_bench_that_works_collides_with_nothing_either(
        self, tmp_path: Path, url: str, shop: Engine, shift: Shift
    ) -> None:
        path = bench(tmp_path / "old", shift, "a")
        back_up(path, tmp_path / "copy")
        bench(tmp_path / "old", shift, "b")
        send_by_hand(path, url)
        new = bench(tmp_path / "new", shift, "c")
        working = Journal(new, "at work")
        assert restore(new, tmp_path / "copy").added == len(shift.events)
        working.close()
        assert send_by_hand(new, url) == len(shift.events)
        assert set(of_shop(shop)) == set(of_bench(path)) | set(of_bench(new))
        assert audited(shop).broken is None

    @pytest.mark.parametrize(
        "hostile",
        [
            "\0",
            "a\0b",
            "\ud800",
            "\u202eabc",
            "'; DROP TABLE entry; --",
            "".join(map(chr, range(0x4E00, 0x4E00 + 10_000))),
            "=1+1",
            "<b>",
            "%s %(a)s :a",
            "\x1b[31m",
        ],
        ids=lambda text: ascii(text)[:12],
    )
    def test_hostile_text_is_kept_and_forwarded_as_text(
        self, tmp_path: Path, url: str, shop: Engine, hostile: str
    ) -> None:
        path = tmp_path / "journal.sqlite3"
        journal = Journal(path, "hostile")
        said = (
            PersonSignedIn(hostile, hostile),
            DocumentMade(hostile, hostile, hostile, hostile),
            Corrected(1, hostile, hostile, hostile, hostile),
        )
        for number, event in enumerate(said, 1):
            journal.record(stamped(number, event=event))
        journal.close()
        assert [one.event for one in read_journal(path)] == list(said)
        assert send_by_hand(path, url) == 3
        assert of_shop(shop) == of_bench(path)
        with shop.connect() as connection:
            assert audit(ShopDatabase(connection)).broken is None

    def test_the_forwarder_carries_on_while_the_shop_is_away_and_catches_up(
        self, tmp_path: Path, postgres: Server, shift: Shift, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("rig.store.forwarding._AWAY_S", (0.1,))
        monkeypatch.setattr("rig.store.forwarding._QUIET_S", 0.1)
        path = bench(tmp_path, shift, "a")
        away = postgres.url.replace("/postgres", "/not_there_yet")
        forwarder = Forwarder(path, away).start()
        _soon(lambda: "does not take entries now" in forwarder.trouble)
        journal = Journal(path, "b")
        write(journal, 1, 2, 3)
        journal.barrier().result(60)
        with postgres.database("not_there_yet") as url:
            _soon(lambda: _count(url) == len(shift.events) + 3)
            write(journal, 4)
            journal.close()
            forwarder.stop()
            assert _count(url) == len(shift.events) + 4
            assert forwarder.trouble == ""


def _dies_after(statements: int) -> Callable[..., None]:
    real, left = ShopDatabase.run, [statements]

    def dying(self: ShopDatabase, statement: str, values: Values | None = None, /) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise ConnectionError("the line was cut")
        real(self, statement, values)

    return dying


def _count(url: str) -> int:
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            return int(connection.scalar(text("SELECT count(*) FROM entry")) or 0)
    except DBAPIError:
        return -1
    finally:
        engine.dispose()


def _soon(true: Callable[[], bool]) -> None:
    end_s = time.monotonic() + 20
    while not true():
        assert time.monotonic() < end_s
        time.sleep(0.05)
