"""`teachrig lot close`: decides about a lot, once nothing could change the decision, and writes its papers."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.handing_out import tell
from rig.cli.json_text import print_json
from rig.cli.lots.common import enter, journal_of, lots_in, open_record_of, person_of, record_of
from rig.cli.lots.papers import hand_out_papers
from rig.cli.lots.text import print_decision
from rig.events import LotClosed, Verdict
from rig.lots.draw import place_of
from rig.lots.record import LotRecord
from rig.lots.report import closing
from rig.sampling.plan import Decision


def command(options: Namespace) -> int:
    """Close a lot; 0 accepted, 1 rejected, or still open."""
    journal = journal_of(options)
    record = open_record_of(journal, options.lot)
    decision = _decision_or_give_up(record)
    _all_aside_or_give_up(record)
    enter(journal, options.lot, closing(record, decision, person_of(options)))
    return tell_closed(options, journal)


def tell_closed(options: Namespace, journal: Path) -> int:
    """Say how a lot was decided, what that proves and what the next lot of its supplier meets; hand its papers out."""
    record = record_of(journal, options.lot)
    closed, opened = record.lot.closed, record.lot.opened
    assert closed is not None, "it was closed just now"
    with lots_in(journal) as lots:
        history = lots.history(opened.supplier, opened.sensor_type)
    done = hand_out_papers(options, options.out, record, history)
    with reader_may_leave():
        if options.json:
            print_json(closed.body() | done.as_dict())
        else:
            print_decision(record, history)
            tell(done)
    return _exit(closed)


def _exit(closed: LotClosed) -> Exit:
    return Exit.DONE if closed.decision == str(Decision.ACCEPTED) else Exit.NOT_ALL_GOOD


def _decision_or_give_up(record: LotRecord) -> Decision:
    standing, number = record.standing, record.lot.number
    if standing.decision is not None:
        return standing.decision
    waits = [f"{len(standing.left)} units of the sample are not tested"] if standing.left else []
    if standing.undecided:
        places = ", ".join(str(place_of(one)) for one in standing.undecided)
        waits.append(f"the bench is undecided about the units of places {places}")
    words = " and ".join(waits)
    narrate(f"lot {number} is as it was")
    raise GiveUp(
        Exit.NOT_ALL_GOOD,
        f"lot {number} cannot be decided: {words}; allowed: teachrig lot run {number}, or for undecided units teachrig "
        "decide SERIAL good|bad by two persons",
    )


def _all_aside_or_give_up(record: LotRecord) -> None:
    """A unit with a defect that still lies in the box would be used."""
    bad = [one.serial for one in record.found.values() if one.verdict is Verdict.BAD]
    places = [str(place_of(serial)) for serial in bad if serial not in record.lot.aside]
    if places:
        raise GiveUp(
            Exit.NOT_ALL_GOOD,
            f"units with a defect have not been put aside: places {', '.join(places)}; allowed: put them aside, then "
            f"teachrig lot aside {record.lot.number} {' '.join(places)} --by NAME",
        )
