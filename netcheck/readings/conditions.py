"""The conditions that hold at some line of a sheet, and what each heading makes of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from .sheet import Position, Stage, State


@dataclass(frozen=True, slots=True)
class Conditions:
    """What holds for the next reading of a sheet.

    Parameters
    ----------
    state : State or None
        None before the first stage is headed.
    meter : str
        The meter that readings are taken with from here on; "" for the first of the sheet.
    turns : mapping of Stage to int
        Pot settings of each stage at which something was read. [count]
    """

    state: State | None = None
    meter: str = ""
    turns: Mapping[Stage, int] = field(default_factory=dict)

    def headed(self, stage: Stage) -> Conditions:
        """A stage begins, or is gone on with: power on, valves in, the pots anywhere."""
        return replace(self, state=State(stage, turn=self.turns.get(stage, 0)))

    def powered(self, live: bool, discharged: bool = False) -> Conditions:
        """The power was switched on or off."""
        return replace(self, state=replace(self._state, live=live, discharged=discharged))

    def with_valves(self, out: bool) -> Conditions:
        """The output valves were pulled out or put in."""
        return replace(self, state=replace(self._state, valves_out=out))

    def turned(self, pots: Mapping[str, Position]) -> Conditions:
        """Some pots were set; those left out stand where they stood.

        Settings without a reading between them make one turn.
        """
        turn = self.turns.get(self._state.stage, 0)
        new = {name: replace(position, turn=turn) for name, position in pots.items()}
        state = replace(self._state, pots={**self._state.pots, **new}, turn=turn)
        return replace(self, state=state)

    def read(self) -> Conditions:
        """Something was read: what pots are set to next is another turn."""
        return replace(self, turns={**self.turns, self._state.stage: self._state.turn + 1})

    @property
    def _state(self) -> State:
        if self.state is None:
            raise ValueError("no stage has been headed yet")
        return self.state


START = Conditions()
"""What holds at the top of a sheet."""
