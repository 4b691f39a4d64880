"""The interlock: every output passes here, and it switches everything off in the thread that saw why."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from threading import RLock

from gpiozero.pins import Factory

from hal.errors import BenchError, Refused, TripCause, TripKind, Tripped
from hal.heartbeat import Heartbeat
from hal.inputs import EdgeHandler, Input, QuietInput
from hal.interlock import causes, rules
from hal.interlock.guard import NestGuard
from hal.interlock.outputs import OutputId, Outputs
from hal.interlock.rules import Command, Condition, Job
from hal.timing import GRAIN_S
from hal.waits import Waits
from wiring.lines import InputLine
from wiring.profile import RigProfile

_MOST_CAUSES = 16
_COIL_QUIET_S = 0.002


class Interlock:
    """Owns every output of the bench and lets through only what the rules allow.

    Resting: everything off, no heartbeat, hands may be in the nest. Armed: the heartbeat beats. Silent: it beats no
    more, and that alone has to drop what is on. Tripped: everything off and held off until `reset`. `trip` may be
    called from any thread; all else belongs to the loop's thread. On the loop, after everything is off, `on_trip`
    listeners are told the cause, and `on_cause` listeners every cause, those that come to light later too.
    """

    def __init__(
        self, profile: RigProfile, pin_factory: Factory, loop: asyncio.AbstractEventLoop, waits: Waits
    ) -> None:
        self.on_trip: list[Callable[[TripCause], None]] = []
        self.on_cause: list[Callable[[TripCause], None]] = []
        self.condition = Condition.RESTING
        self._causes: list[TripCause] = []
        self._told = 0
        self._loop = loop
        self._waits = waits
        self._lock = RLock()
        self._timing = profile.coil_supply
        self._outputs = Outputs(profile, pin_factory)
        self._heartbeat = Heartbeat(
            self._outputs.writer(OutputId(Job.HEARTBEAT)),
            profile.coil_supply,
            loop,
            self._lock,
            on_late=lambda pause_s: self.trip(causes.heartbeat_late(pause_s)),
            on_fault=lambda error: self.trip(causes.output_failed(OutputId(Job.HEARTBEAT), error)),
        )

        def watched(line: InputLine, first: EdgeHandler, *, pulled_active: bool = False) -> Input:
            return Input(
                line, pin_factory, loop, on_error=self.fault, first=first, pulled_active=pulled_active
            )

        # A broken wire to the stop button must read as pressed.
        self._stop = watched(profile.coil_supply.stop_button, self._stop_edge, pulled_active=True)
        sense = profile.coil_supply.sense
        self._coil = None if sense is None else watched(sense, self._coil_edge)
        self._coil_quiet = (
            None if self._coil is None else QuietInput(self._coil, loop, waits, quiet_s=_COIL_QUIET_S)
        )
        self.guards = {
            nest.name: NestGuard(
                nest, profile.dead_time_s, pin_factory, loop, self._lock, trip=self.trip, on_error=self.fault
            )
            for nest in profile.nest
        }

    @property
    def causes(self) -> tuple[TripCause, ...]:
        """Why it tripped, the first cause first; empty when not tripped."""
        return tuple(self._causes)

    @property
    def stop_pressed(self) -> bool:
        """Whether the stop button is pressed, or its wire broken, as read now."""
        return self._stop.active

    @property
    def stop_button(self) -> Input:
        """The input of the stop button, to listen to its edges."""
        return self._stop

    @property
    def coil_sense(self) -> Input | None:
        """The input that senses the coil supply, to listen to its edges; None where there is none."""
        return self._coil

    @property
    def coils_supplied(self) -> bool | None:
        """Whether the relay coils have supply, as read now; None where nothing senses it."""
        return None if self._coil is None else self._coil.active

    # -- commands --------------------------------------------------------------------------------------------

    def command(self, output: OutputId, on: bool, *, longest_s: float | None = None) -> None:
        """Switch one output now; a teach contact is opened after `longest_s` seconds at the latest.

        Raises `Tripped` for 'on' after a trip, and `Refused`, with a trip, for what would break a rule.
        """
        command = Command(output.job, on, longest_s)
        try:
            guard = None if output.nest is None else self.guards[output.nest]
            with self._lock:
                self._carry_out(output, command, guard)
            if guard is not None:
                guard.watch()
        except BenchError:
            raise
        except Exception as error:
            self.fault(error)
            raise

    def _carry_out(self, output: OutputId, command: Command, guard: NestGuard | None) -> None:
        now_s = self._loop.time()
        self._check_heartbeat()
        # Asked before looking whether tripped: reading the wire may show a cause.
        reason = self._refusal(guard, command, now_s)
        if self._causes and not command.on:
            return
        self._raise_if_tripped()
        if reason is not None:
            error = Refused(f"{output} was not switched: {reason}")
            self.fault(error)
            raise error
        # On only when it is known what has to follow; off first and the account after it, as in a trip.
        if not command.on:
            self._write(output, False)
        if guard is not None:
            guard.note(command, self._loop.time())
        if command.on:
            self._write(output, True)

    def _refusal(self, guard: NestGuard | None, command: Command, now_s: float) -> str | None:
        if command.needs_no_rule:
            return None
        if guard is not None:
            return guard.refusal(self.condition, command, now_s)
        return rules.free_refusal(self.condition, command)

    def _write(self, output: OutputId, on: bool) -> None:
        try:
            self._outputs.write(output, on)
        except Exception as error:
            self.trip(causes.output_failed(output, error))
        if self._causes:
            # Shown by the write itself, or by a signal in the midst of it: nothing stays on after a trip.
            if on:
                self._outputs.write(output, False)
            self._raise_if_tripped()

    def _raise_if_tripped(self) -> None:
        if self._causes:
            raise Tripped(self._causes[0])

    def _check_heartbeat(self) -> None:
        if self.condition is Condition.ARMED and (pause_s := self._heartbeat.pause_s()) is not None:
            self.trip(causes.heartbeat_late(pause_s))

    # -- conditions ------------------------------------------------------------------------------------------

    async def arm(self) -> None:
        """Start the heartbeat and wait for the coil supply; does nothing when armed.

        Raises `Tripped` when the stop button is pressed, a contact or supply relay is not at rest, or the
        coil supply does not come up, or was up without a heartbeat.
        """
        if self.condition is Condition.ARMED:
            return
        self._raise_if_tripped()
        if self.condition is Condition.SILENT:
            self.rest()
        # What has just been switched off may still be on its way.
        await self._waits.sleep_until(max(guard.settled_s for guard in self.guards.values()) + GRAIN_S)
        obstacle = self._obstacle()
        if obstacle is not None:
            self.trip(obstacle)
        self._raise_if_tripped()
        dropout_s = self._timing.dropout_s
        await self._coil_becomes(False, causes.COIL_SUPPLY_STUCK, self._heartbeat.rose_s + 2 * dropout_s)
        self._heartbeat.start()
        await self._coil_becomes(True, causes.COIL_SUPPLY_LOST, self._loop.time() + dropout_s)
        with self._lock:
            self._raise_if_tripped()
            self.condition = Condition.ARMED

    async def _coil_becomes(self, active: bool, otherwise: TripCause, latest_s: float) -> None:
        if self._coil_quiet is None:
            return
        timeout_s = max(latest_s - self._loop.time(), 2 * _COIL_QUIET_S)
        if await self._coil_quiet.wait_for(active, timeout_s) is None:
            self.trip(otherwise)
        self._raise_if_tripped()

    def rest(self) -> None:
        """Switch everything off and stop the heartbeat, so that hands may go into the nest."""
        with self._lock:
            if self._causes:
                return
            self.condition = Condition.RESTING
            self._all_off()
        for guard in self.guards.values():
            guard.watch()

    def fall_silent(self) -> float:
        """End the pulses and switch nothing off: only the heartbeat module is to drop what is on. For its test.

        Returns the loop time of the last pulse. Nothing can be switched on before `rest` and `arm`. Raises
        `Tripped`, and `Refused` (with a trip) unless armed with no supply relay and no contact on.
        """
        with self._lock:
            self._raise_if_tripped()
            if self.condition is not Condition.ARMED or any(guard.holds for guard in self.guards.values()):
                error = Refused(
                    "the heartbeat was not silenced: not armed, or a unit has supply or a contact"
                )
                self.fault(error)
                raise error
            self.condition = Condition.SILENT
            self._heartbeat.stop()
            return self._heartbeat.rose_s

    def trip(self, cause: TripCause) -> None:
        """Switch everything off, here and now, and hold it off; from any thread.

        The first cause is kept as the cause, later ones are added.
        """
        with self._lock:
            if self._causes:
                self._add(cause)
                return
            armed, pause_s = self.condition is Condition.ARMED, self._heartbeat.pause_s()
            self.condition = Condition.TRIPPED
            self._causes.append(cause)
            self._all_off()
            root = self._root_of(cause, pause_s) if armed else cause
            if root is not cause:
                self._causes.insert(0, root)
        self._tell_soon()

    def fault(self, error: BaseException) -> None:
        """Trip because the program met an error it has no answer to."""
        self.trip(causes.program_fault(error))

    def reset(self) -> None:
        """Go back to resting once the cause is gone; only ever on a person's wish.

        Raises `Tripped` with what still stands in the way.
        """
        with self._lock:
            if not self._causes:
                return
            failure = self._outputs.all_off()
            obstacle = causes.output_failed(*failure) if failure else self._obstacle()
            if obstacle is not None:
                raise Tripped(obstacle)
            self._causes.clear()
            self._told = 0
            self.condition = Condition.RESTING
        self._waits.begin()

    def release(self) -> None:
        """Switch everything off, then give the lines back; nothing can be commanded afterwards."""
        with self._lock:
            self._heartbeat.stop()
            self._outputs.all_off()
            self._outputs.release()
        for guard in self.guards.values():
            guard.close()
        self._stop.close()
        if self._coil is not None:
            self._coil.close()

    # -- inside a trip ---------------------------------------------------------------------------------------

    def _all_off(self) -> None:
        self._heartbeat.stop()
        failure = self._outputs.all_off()
        now_s = self._loop.time()
        for guard in self.guards.values():
            guard.note_all_off(now_s)
        if failure is not None:
            self.trip(causes.output_failed(*failure))

    def _add(self, cause: TripCause) -> None:
        known = any((old.kind, old.nest) == (cause.kind, cause.nest) for old in self._causes)
        if not known and len(self._causes) < _MOST_CAUSES:
            self._causes.append(cause)
            self._tell_soon()

    def _root_of(self, cause: TripCause, pause_s: float | None) -> TripCause:
        """Find what explains a symptom: contacts drop by themselves when their coils lose the supply."""
        if cause.kind not in _SYMPTOMS:
            return cause
        with suppress(Exception):  # everything is off; a line that cannot be read only costs an explanation
            if self._stop.active:
                return causes.STOP_PRESSED
            if pause_s is not None:
                return causes.heartbeat_late(pause_s)
            if self._coil is not None and not self._coil.active and cause is not causes.COIL_SUPPLY_LOST:
                return causes.COIL_SUPPLY_LOST
        return cause

    def _obstacle(self) -> TripCause | None:
        if self._stop.active:
            return causes.STOP_PRESSED
        return next((found for guard in self.guards.values() if (found := guard.obstacle())), None)

    def _tell_soon(self) -> None:
        with suppress(RuntimeError):  # a closed loop has nobody left to tell
            self._loop.call_soon_threadsafe(self._tell)

    def _tell(self) -> None:
        with self._lock:
            untold = self._causes[self._told :]
            is_news = not self._told
            self._told += len(untold)
        if untold and is_news:
            first = untold[0]
            self._waits.end(lambda: Tripped(first))
            for guard in self.guards.values():
                guard.watch()
            self._tell_each(self.on_trip, first)
        for cause in untold:
            self._tell_each(self.on_cause, cause)

    def _tell_each(self, listeners: list[Callable[[TripCause], None]], cause: TripCause) -> None:
        for listener in tuple(listeners):
            try:
                listener(cause)
            except Exception as error:
                self.fault(error)

    def _stop_edge(self, active: bool, _at_s: float) -> None:
        if active:
            self.trip(causes.STOP_PRESSED)

    def _coil_edge(self, active: bool, _at_s: float) -> None:
        if not active and self.condition is Condition.ARMED:
            self.trip(causes.COIL_SUPPLY_LOST)


_SYMPTOMS = frozenset(
    {
        TripKind.COIL_SUPPLY_LOST,
        TripKind.READBACK_DEAD,
        TripKind.READBACK_WRONG_RAIL,
        TripKind.READBACK_UNEXPECTED,
        TripKind.SUPPLY_DEAD,
    }
)
