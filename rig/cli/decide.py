"""`teachrig decide`: a unit that the bench was undecided about, decided by two persons."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder, person_named
from rig.cli.json_text import print_json
from rig.decisions import Decision, NotDecided, decide
from rig.events import Verdict
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.typed import typed_text
from wiring.plainwords import printable

_LONGEST_REASON = 400


def command(options: Namespace) -> int:
    """Enter the decision."""
    decision = Decision(
        Verdict(options.verdict),
        person_named("--by", options.by),
        person_named("--released-by", options.released_by),
        _reason(options.reason),
    )
    path = data_folder(options.data) / JOURNAL_NAME
    try:
        attempt = decide(path, options.serial, decision)
    except NotDecided as refused:
        raise GiveUp(Exit.BAD_INPUT, str(refused)) from None
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT if path.is_file() else Exit.BAD_INPUT, str(failure)) from None
    if options.json:
        told = {"serial": attempt.serial, "order": attempt.order, "bench_verdict": str(attempt.verdict)}
        by_hand = {
            "by_hand": str(decision.verdict),
            "by": decision.person,
            "released_by": decision.released_by,
        }
        print_json({**told, **by_hand, "reason": decision.why})
    else:
        words = f"unit {attempt.serial} of order {attempt.order}: {decision.verdict}, decided by hand"
        who = f"by {decision.person}, released by {decision.released_by}"
        narrate(
            f"{printable(words)} {printable(who)}; the bench's verdict ({attempt.verdict}) stays in the record"
        )
    return Exit.DONE


def _reason(given: str) -> str:
    reason = typed_text(given)
    if not any(letter.isalnum() for letter in reason) or len(reason) > _LONGEST_REASON:
        words = f"--reason: given {printable(reason, 40)!r}; allowed: words, up to {_LONGEST_REASON} letters"
        raise GiveUp(Exit.BAD_INPUT, words)
    return reason
