"""`teachrig card`: the hand card of an order, a PDF of one page."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.exits import Exit, narrate
from rig.cli.inputs import open_library, plan_or_give_up, read_order, read_profile
from rig.cli.writing import write_file
from rig.papers.card import card_of
from rig.papers.card_pdf import card_pdf
from rig.planning.planned import planned
from rig.software import software_version
from wiring.plainwords import printable
from wiring.terms import Verification


def command(options: Namespace) -> int:
    """Write the card."""
    library = open_library()
    order, sensor_type = read_order(options.order, library)
    rig = read_profile(options.rig, library)
    # Whoever sets by hand proves by hand, whatever a bench would do.
    by_hand = order.checks.model_copy(update={"method": Verification.POSITIONS})
    order = order.model_copy(update={"checks": by_hand})
    plan = plan_or_give_up(order, sensor_type, rig)
    path = options.out or Path(f"hand-card-{order.number}.pdf")
    card = card_of(planned(order, sensor_type, rig, plan), f"teachrig {software_version()}")
    write_file(path, card_pdf(card), force=options.force)
    for warning in plan.warnings:
        narrate(f"note: {warning}")
    print(printable(str(path)))
    return Exit.DONE
