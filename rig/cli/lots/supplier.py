"""`teachrig lot supplier`: the history of suppliers, type by type."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from rig.cli.exits import Exit, GiveUp, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.lots.common import asked_lots
from rig.lots.history import History, pooled_words
from rig.lots.supplier import drifts, faults_ranked, lot_rows
from rig.sampling.proof import percent
from rig.sampling.switching import standing_words
from rig.statistics.binomial import Bounds, clopper_pearson
from wiring.plainwords import near_miss, printable

_LOTS = ("lot", "closed", "note", ">units", "inspection", ">defective", "share, 95 %", "decision")


def command(options: Namespace) -> int:
    """Show the history."""
    with asked_lots(options) as lots:
        pairs = lots.suppliers()
        wanted = [
            (supplier, sensor_type)
            for supplier, sensor_type in pairs
            if options.supplier in (None, supplier) and options.type in (None, sensor_type)
        ]
        histories = {pair: lots.history(*pair) for pair in wanted}
    if not wanted:
        names = sorted({supplier for supplier, _ in pairs})
        near = near_miss(options.supplier or "", names)
        allowed = ", ".join(names) or "none has sent a lot yet"
        raise GiveUp(
            Exit.BAD_INPUT, f"no lot of such a supplier and type{near}; allowed: {printable(allowed)}"
        )
    with reader_may_leave():
        if options.json:
            print_json([_as_dict(*pair, history) for pair, history in histories.items()])
        else:
            for (supplier, sensor_type), history in histories.items():
                _print(supplier, sensor_type, history)
    return Exit.DONE


def _print(supplier: str, sensor_type: str, history: History) -> None:
    page = Page()
    page.heading(f"{supplier}: {sensor_type}")
    tested, defective = history.tested, history.defective
    share = (
        f"{bounds_words(clopper_pearson(defective, tested))} with 95 % confidence"
        if tested
        else "nothing was tested yet"
    )
    if beside := pooled_words(history):
        share = f"{share}; {beside}"
    page.pairs(
        [
            ("lots", f"{len(history.lots)}, {len(history.closed)} decided"),
            ("defective", f"{defective} of {tested} tested: {share}"),
            ("next lot", standing_words(history.standing)),
        ]
    )
    page.table(
        _LOTS,
        [
            (
                one.lot,
                one.day,
                one.delivery_note,
                str(one.quantity),
                one.inspection,
                f"{one.defective} of {one.tested}",
                bounds_words(one.bounds),
                one.decision,
            )
            for one in lot_rows(history)
        ],
    )
    ranked = faults_ranked(history)
    if ranked:
        page.heading("faults, the most frequent first")
        page.table(
            ("characteristic", ">units", ">lots"),
            [(name, str(units), str(in_lots)) for name, units, in_lots in ranked],
        )
    moved = list(drifts(history))
    if moved:
        page.heading("measured figures of sound units, mean of each lot")
        for one in moved:
            page.say(": ".join(one.in_words()))


def bounds_words(bounds: Bounds) -> str:
    """Both bounds of a share."""
    return f"{percent(bounds.lower)} to {percent(bounds.upper)}"


def _as_dict(supplier: str, sensor_type: str, history: History) -> dict[str, object]:
    return {
        "supplier": supplier,
        "sensor_type": sensor_type,
        "tested": history.tested,
        "defective": history.defective,
        "inspection": str(history.standing.severity),
        "stopped": history.standing.stopped,
        "lots": [asdict(one) for one in lot_rows(history)],
        "faults": [
            {"characteristic": name, "units": units, "lots": in_lots}
            for name, units, in_lots in faults_ranked(history)
        ],
        "drift": [asdict(one) for one in drifts(history)],
    }
