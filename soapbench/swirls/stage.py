"""One timed stage of handwork, and how thick its batter may be."""

from __future__ import annotations

from dataclasses import dataclass

from soapbench.batter import Trace


@dataclass(frozen=True, slots=True)
class Need:
    """``pots`` must have reached ``earliest`` when a stage starts, and not yet have gone past
    ``latest`` when it ends.

    Past ``latest``, and not past ``in_part``, it comes out in part. ``drawn``: these two when a
    wire is drawn through afterwards that draws down what lies on top.
    """

    pots: tuple[str, ...]
    earliest: Trace
    latest: Trace
    in_part: Trace | None = None
    """None: as ``latest``."""
    drawn: tuple[Trace, Trace] | None = None

    def limits(self, drawn: bool = False) -> tuple[Trace, Trace]:
        """Latest state as planned and in part."""
        if drawn and self.drawn:
            return self.drawn
        return self.latest, self.latest if self.in_part is None else self.in_part


@dataclass(frozen=True, slots=True)
class Stage:
    """One timed piece of handwork."""

    id: str
    action: str
    """Kind of handwork; durations of one kind are learned together."""
    words: str
    pots: tuple[str, ...] = ()
    """Pots in hand."""
    median_s: float = 30.0
    spread: float = 0.3
    """Standard deviation of log duration."""
    needs: tuple[Need, ...] = ()
    blend_s: float = 0.0
    """Stick-blending meant within it, s."""
    blend_to: Trace | None = None
    """The state it is blended up to, however long that takes: on top of ``median_s``."""
    litres: float = 1.0
    """Of batter in hand."""
    fragrance_into: tuple[str, ...] = ()
    """Pots whose fragrance goes in when it starts."""
    puts: str | None = None
    """Where the pots in hand go: "mould" or "base"."""
    step: str = ""
    """The swirl step it belongs to; empty before the pour."""
    manner: str = ""
    """How it goes into the mould, or how a tool is led; empty before the pour."""
    onto: tuple[str, ...] = ()
    """Pots in the mould that bear it; empty while there is none."""
    draws_down: bool = False
    """A wire that draws down what did not sink."""
    mould: str = ""
    """Which one it is done in, "mould 2", where pots are chosen for them; empty: there is one."""

    def __hash__(self) -> int:
        """By what mostly tells two stages apart: a pour looks them up by the hundred."""
        return hash((self.id, self.words, self.pots))

    @property
    def drops(self) -> bool:
        """Whether it is dropped: streams that sink into what is in the mould."""
        return self.manner == "drop"

    @property
    def can_be_left_out(self) -> bool:
        """A tool or a top: without it the soap comes out in part."""
        return bool(self.step) and self.puts is None

    @property
    def waits(self) -> tuple[tuple[str, Trace], ...]:
        """Pots, and the trace state each must have reached before hands begin."""
        return tuple(
            (pot, need.earliest)
            for need in self.needs
            if need.earliest > Trace.EMULSION
            for pot in need.pots
        )
