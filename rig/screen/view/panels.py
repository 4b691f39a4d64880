"""The panels of the working screen as lines: head, tally, steps, and the live states in words with a mark."""

from __future__ import annotations

from hal.bench import BenchState
from hal.interlock.rules import Condition, WireState
from hal.nest import NestState, OutputLevel
from rig.events import Verdict
from rig.planning.plan import MakeContact
from rig.screen.view.board import Board, Phase
from rig.screen.view.instruction import MARKS, VERDICT_ROLES
from rig.screen.view.lines import Line, Role, Span, beside, cut, joined, line, width_of
from rig.screen.view.steps import State, Step, led_words
from rig.screen.view.wording import Words
from rig.sequencer.output_type import is_on
from wiring.terms import LedKind

_STEP_MARKS = {State.TODO: ".", State.NOW: ">", State.DONE: "+", State.WRONG: "x"}
_STEP_ROLES = {State.TODO: Role.DIM, State.NOW: Role.WISH, State.DONE: Role.PLAIN, State.WRONG: Role.BAD}
_WIDE = 100
_WIDEST_STEP = 76
ON, OFF, UNKNOWN = "\u25a0", "\u25a1", "?"
"""Marks of what is live, what is not, and what nobody knows: squares that every text console has."""


def head(board: Board, rig: str, width: int, *, note: str = "") -> Line:
    """Order, customer, setting; at the right edge the rig, and `note` if there is one."""
    order, plan = board.job.order, board.job.plan
    points = " ".join(board.words.short(at_mm) for _, at_mm in plan.set_points)
    setting = f"{plan.mode} {plan.output_function} {points}".strip() + (" mm" if points else "")
    right = line(Span(f" {note or rig} ", Role.STRONG))
    texts = (setting, plan.sensor_type, order.customer)
    in_hand = board.serial and not board.phase.takes_serial and board.phase is not Phase.ENDED
    unit = [line(Span(board.serial, Role.STRONG))] if in_hand else []
    groups = [line(Span(f" {order.number}", Role.STRONG)), *unit, *(line(text) for text in texts)]
    return beside(joined(groups, "   ", width - width_of(right)), right, width)


def tally(board: Board, width: int) -> Line:
    """Done, verdicts, left, pace and time left; what there is no room for is left out from the end."""
    words, standing = board.words, board.standing
    total, left = len(standing.units), len(standing.open_serials)
    groups = [line(Span(f" {words('tally.done', done=total - left, total=total)}", Role.STRONG))]
    for verdict in Verdict:
        count = standing.count(verdict)
        role = VERDICT_ROLES[verdict] if count else Role.DIM
        groups.append(line(Span(f"{MARKS[verdict]} {words(f'verdict.{verdict}')} {count}", role)))
    groups.append(line(words("tally.left", left=left)))
    pace_s, left_s = standing.seconds_a_unit, standing.left_s
    if pace_s and left_s:
        groups.append(line(words("tally.pace", rate=f"{3600 / pace_s:.0f}")))
        groups.append(line(words("tally.time", time=words.clock(left_s))))
    return joined(groups, "   " if width >= _WIDE else "  ", width)


def steps(board: Board, now_s: float | None, width: int, rows: int) -> list[Line]:
    """The part of the list of steps that matters now: the step in work with what was before and comes after."""
    width, listed = min(width, _WIDEST_STEP), board.steps.rows
    current = next((i for i, row in enumerate(listed) if row.state is State.NOW), None)
    if current is None:
        current = max((i for i, row in enumerate(listed) if row.state is not State.TODO), default=0)
    first = max(0, min(current - rows // 2, len(listed) - rows))
    return [_step(row, now_s, board.words, width) for row in listed[first : first + rows]]


def _step(row: Step, now_s: float | None, words: Words, width: int) -> Line:
    took_s = row.took_s
    if row.state is State.NOW and now_s is not None and row.began_s is not None:
        took_s = max(0.0, now_s - row.began_s)
    time = words.seconds(took_s) if took_s is not None and row.state is not State.TODO else ""
    role = _STEP_ROLES[row.state]
    text = Span(f"{_STEP_MARKS[row.state]} {cut(row.text, width - len(time) - 3)}", role)
    return beside(line(text), line(Span(time, role)), width)


def states(board: Board, state: BenchState | None, column: int = 0) -> list[Line]:
    """Relays, supply, teach wire, LED, output and contact of the nest; said from `column` on, or farther right."""
    words = board.words
    nest = None if state is None or not state.nests else state.nests[0]
    rows = [
        ("relays", _relays(state, words)),
        ("supply", _supply(board, nest)),
        ("wire", _wire(nest, words)),
        ("led", _led(nest, words)),
        ("output", _output(board, nest)),
        ("contact", _contact(board.steps.contact, nest, words)),
    ]
    named = {name: words(f"panel.{name}") for name, _ in rows}
    column = max(column, *(len(one) + 1 for one in named.values()))
    return [line(Span(f"{named[name]:<{column}}", Role.DIM), *said) for name, said in rows]


def _marked(mark: str, text: str, role: Role = Role.PLAIN) -> Line:
    return line(Span(f"{mark} {text}", role))


def _relays(state: BenchState | None, words: Words) -> Line:
    if state is None:
        return _marked(OFF, words("state.closed"), Role.DIM)
    if state.condition is Condition.TRIPPED:
        return _marked("!", words("state.tripped"), Role.BAD)
    if state.condition is Condition.ARMED:
        return _marked(ON, words("state.armed"), Role.STRONG)
    return _marked(OFF, words("state.resting"))


def _supply(board: Board, nest: NestState | None) -> Line:
    words = board.words
    if nest is None or not nest.supplied:
        return _marked(OFF, words("state.off"), Role.DIM)
    figures = []
    if board.supply is not None and board.supply.voltage_v is not None:
        figures.append(f"{words.number(board.supply.voltage_v)} V")
    if board.supply is not None and board.supply.current_a is not None:
        figures.append(f"{words.number(board.supply.current_a * 1000, 0)} mA")
    return _marked(ON, " ".join((words("state.on"), *figures)), Role.STRONG)


def _wire(nest: NestState | None, words: Words) -> Line:
    if nest is None or nest.teach_wire is WireState.FLOATING:
        return _marked(OFF, words("state.floating"), Role.DIM)
    if nest.teach_wire is WireState.BOTH:
        return _marked("!", words("state.both"), Role.BAD)
    rail = "L+" if nest.teach_wire is WireState.AT_PLUS else "L-"
    return _marked(ON, words("state.at", rail=rail), Role.STRONG)


def _led(nest: NestState | None, words: Words) -> Line:
    if nest is None or nest.led is None:
        return _marked(UNKNOWN, words("state.not-fitted" if nest is not None else "state.unknown"), Role.DIM)
    pattern = nest.led
    if not nest.supplied and pattern.kind is not LedKind.STEADY:
        return _marked(OFF, words("led.dark"), Role.DIM)  # the end of a pattern, cut off with the supply
    said = led_words(pattern.kind, pattern.rate_hz, pattern.count, words)
    mark = {LedKind.DARK: OFF, LedKind.UNCLEAR: UNKNOWN}.get(pattern.kind, ON)
    return _marked(mark, said, Role.STRONG if mark is ON else Role.DIM)


def _output(board: Board, nest: NestState | None) -> Line:
    words = board.words
    if nest is None:
        return _marked(UNKNOWN, words("state.unknown"), Role.DIM)
    level = nest.output
    on = is_on(board.job.plan.inspection.output_type, level) if nest.supplied else None
    where = {
        OutputLevel.AT_PLUS: "L+",
        OutputLevel.AT_MINUS: "L-",
        OutputLevel.BETWEEN: words("state.between"),
    }.get(level, words("state.both"))
    if on is None:
        return _marked(UNKNOWN, where, Role.DIM)
    said = words("state.on" if on else "state.off")
    return _marked(ON if on else OFF, f"{said} ({where})", Role.STRONG if on else Role.PLAIN)


def _contact(step: MakeContact | None, nest: NestState | None, words: Words) -> Line:
    if step is None:
        return _marked(OFF, words("state.open"), Role.DIM)
    limits = words("state.limits", least=words.short(step.shortest_s), most=words.short(step.longest_s))
    if nest is None or nest.contact_s is None:
        return line(Span(f"{OFF} {words('state.open')}  "), Span(limits, Role.DIM))
    running_s = nest.contact_s
    role = Role.WARN if running_s < step.shortest_s else Role.GOOD
    return line(Span(f"{ON} {words.seconds(running_s)}  ", role), Span(limits, Role.DIM))
