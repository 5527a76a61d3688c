"""Looking for a short lay: orders, attitudes and ways to cut are changed at random and kept when they serve.

The search is late acceptance hill climbing (Burke and Bykov, "The late acceptance hill-climbing heuristic",
European Journal of Operational Research 258, 2017): a change is kept when the lay is no worse than the one
some steps ago. What is nearly as short as the best is then moved together by ``compact``. The same seed and
number of steps give the same lay on the same machine.
"""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, product

from likesewn.lay.board import RULES, Board, Layout, Spot, Turn
from likesewn.lay.compact import Compactor
from likesewn.lay.effort import QUICK
from likesewn.lay.rows import Rows
from likesewn.lay.ways import Unit, Way

__all__ = ["Search", "Stop"]

MEMORY = 30
"""Steps that late acceptance looks back: longer is slower and strays further."""

WORTH = 1.02
"""Share of the best length up to which a lay is worth moving together."""

POLISHES = 20
"""Steps for which one lay is moved together, on the average: it takes as long as some steps do."""

MANY = 16
"""Outlines beyond which keep-outs of all pairs take longer to work out than a first plan may take."""

STALE = 300
"""Steps without a better lay after which the search starts again."""

AGAIN = 0.5
"""Share of new starts that are the best order, shaken; the others are fresh ones."""

MOST_BEGUN = 16
"""Of these, those that are laid with gaps filled."""

MOST_CHOICES = 24
"""Ways to cut all pieces that are tried at the beginning."""

ORDERS: tuple[Callable[[Unit], float], ...] = (
    lambda unit: -unit.area,
    lambda unit: -unit.lies[0].length,
    lambda unit: (not unit.on_fold) * 1e6 - unit.lies[0].length,
    lambda unit: -float(unit.lies[0].outline[:, 1].max() - unit.lies[0].outline[:, 1].min()),
)
"""Orders to start from: largest first, longest first, on the fold first, widest first."""

Stop = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class State:
    """What is changed: the way chosen for each item, and the turns with the item that each belongs to."""

    ways: tuple[int, ...]
    turns: tuple[tuple[int, Turn], ...]


@dataclass(slots=True)
class Climb:
    """One climb by late acceptance.

    Attributes:
        state: Where it stands.
        score: The score there.
        lead: The best state of all climbs so far.
        stale: Steps without a better score.
    """

    state: State
    score: float
    lead: State = field(init=False)
    stale: int = field(init=False, default=0)
    _leading: float = field(init=False, default=math.inf)
    _least: float = field(init=False)
    _memory: list[float] = field(init=False)

    def __post_init__(self) -> None:
        """Begin to climb."""
        self.start(self.state, self.score)

    def start(self, state: State, score: float) -> None:
        """Begin again from another state."""
        self.state, self.score, self._least = state, score, score
        self._memory = [score] * MEMORY
        self.stale = 0
        if score < self._leading or math.isinf(self._leading):
            self.lead, self._leading = state, score

    def within(self, step: int) -> float:
        """Return the score up to which a state is taken at this step."""
        return max(self._memory[step % MEMORY], self.score)

    def take(self, step: int, state: State, score: float) -> None:
        """Take a state where its score serves."""
        if score <= self.within(step):
            self.state, self.score = state, score
        self._memory[step % MEMORY] = self.score
        self.stale = 0 if self.score < self._least - 1e-6 else self.stale + 1
        self._least = min(self._least, self.score)
        if self.score < self._leading:
            self.lead, self._leading = self.state, self.score


@dataclass(slots=True)
class Search:
    """One search.

    Attributes:
        board: The cloth.
        items: What is to be cut, each in one of several ways.
        seed: Seed of the random numbers.
        improved: Told of each lay that is shorter than all before it.
        best: The shortest lay found so far.
        steps: Steps taken so far.
        interrupted: True once the person has broken off the search; what was found stands.
    """

    board: Board
    items: Sequence[Sequence[Way]]
    seed: int = 0
    improved: Callable[[Layout], None] | None = None
    best: Layout | None = None
    steps: int = 0
    interrupted: bool = False
    _random: random.Random = field(default_factory=random.Random)
    _compactor: Compactor = field(default_factory=Compactor)
    _rows: Rows | None = None
    _tried: set[tuple[float, ...]] = field(default_factory=set[tuple[float, ...]])

    def __post_init__(self) -> None:
        """Lay in rows only where rows know all there is to know."""
        if not any(self.board.cloth.blocked) and not self.board.repeat:
            self._rows = Rows(self.board.cloth, self.board.limit)

    def first(self) -> Layout | None:
        """Lay the pieces in a few plain orders, in the handiest way to cut each; None where none fits."""
        for number in range(2 * len(ORDERS)):
            state = self._start(number)
            self._keep(self._in_rows(state))
            if not self.many:
                self._keep(self._laid(state))
        return self.best

    def _in_rows(self, state: State) -> Layout | None:
        return None if self._rows is None else self._rows.lay([turn for _, turn in state.turns])

    @property
    def many(self) -> bool:
        """True where there are so many outlines that they are laid in rows first."""
        return self._rows is not None and sum(len(ways[0]) for ways in self.items) > MANY

    def run(self, steps: int, stop: Stop = lambda: False) -> Layout | None:
        """Search for a number of steps, or until ``stop`` says so or the person breaks it off.

        Returns:
            The best lay, None where none fits.
        """
        try:
            self._search(steps, stop)
        except KeyboardInterrupt:
            if self.best is None:
                raise
            self.interrupted = True
        return self.best

    def offer(self, laid: Layout) -> None:
        """Take a lay that was found in another way, and keep it where it is shorter."""
        self._keep(laid)

    def finish(self) -> None:
        """Move what lies in the best lay together once more."""
        if self.best is not None:
            self._keep(self._compactor.shorter(self.best))

    def _search(self, steps: int, stop: Stop) -> None:
        self._random = random.Random(self.seed)  # noqa: S311 - a search, no secret
        if self.best is None:
            self.first()
        if self.best is not None and not self.many:
            self._polish(self.best)
        climb = Climb(*self._beginning(steps, stop))
        most = steps if not self.many or steps > QUICK else steps * MANY // (2 * len(climb.state.turns))
        for step in range(most):
            if stop():
                break
            self.steps += 1
            other = self._changed(climb.state)
            laid = self._laid(other, climb.within(step))
            climb.take(step, other, math.inf if laid is None else laid.score)
            self._judge(laid)
            if climb.stale > STALE:
                again = self._shaken(climb.lead) if self._random.random() < AGAIN else self._fresh()
                climb.start(again, self._score(again))
        if self.many and self.best is not None and steps > QUICK and not stop():
            self._close_up(self.best)

    def _judge(self, laid: Layout | None) -> None:
        """Keep a lay where it is the best so far; move it together where it is nearly as short as that."""
        if laid is None:
            return
        near = self.best is not None and laid.length < self.best.length * WORTH
        if near and not self.many:
            self._polish(laid)
        else:
            self._keep(laid)

    def _beginning(self, steps: int, stop: Stop) -> tuple[State, float]:
        """Return the best of the plain orders over ways to cut the pieces, with its score."""
        best = self._start(self.seed % len(ORDERS))
        score = self._score(best)
        counts = [range(len(ways)) for ways in self.items]
        choices = list(islice(product(*counts), MOST_CHOICES)) if not self.many else []
        states = [self._start(number, choice) for choice in choices for number in range(len(ORDERS))]
        self._random.shuffle(states)
        if self._rows is not None:
            # Rows are quick to lay, and an order that is good in rows is a good one to begin with.
            laid = [self._in_rows(state) for state in states[: max(steps // 4, 4)]]
            for row in laid:
                self._keep(row)
            lengths = [math.inf if row is None else row.length for row in laid]
            states = [states[i] for i in sorted(range(len(laid)), key=lengths.__getitem__)[:MOST_BEGUN]]
        for state in states[: steps // 2]:
            if stop():
                break
            self.steps += 1
            its = self._score(state, score)
            if its < score:
                best, score = state, its
        return best, score

    def _fresh(self) -> State:
        """Return any ways to cut the pieces, in any order."""
        ways = tuple(self._random.randrange(len(ways)) for ways in self.items)
        turns = list(self._start(0, ways).turns)
        self._random.shuffle(turns)
        return State(ways, tuple(turns))

    def _close_up(self, laid: Layout) -> None:
        """Lay what lies in rows again, in the same order, so that gaps are filled; then move it together."""
        turns = [Turn(spot.unit, spot.unit.lies.index(spot.lie)) for spot in laid.spots]
        self._keep(self.board.lay(turns))
        self._keep(self._compactor.shorter(self.best or laid))

    def _score(self, state: State, within: float = math.inf) -> float:
        laid = self._laid(state, within)
        self._keep(laid)
        return math.inf if laid is None else laid.score

    def _keep(self, laid: Layout | None) -> None:
        if laid is not None and (self.best is None or laid.length < self.best.length - 1e-6):
            self.best = laid
            if self.improved is not None:
                self.improved(laid)

    def _polish(self, laid: Layout) -> None:
        self._keep(laid)
        mark = (round(laid.length, 2), *sorted(round(spot.x + 7 * spot.y, 1) for spot in laid.spots))
        if mark not in self._tried and len(self._tried) <= self.steps / POLISHES:
            self._tried.add(mark)
            self._keep(self._compactor.shorter(laid))

    def _laid(self, state: State, within: float = math.inf) -> Layout | None:
        turns = [turn for _, turn in state.turns]
        return (
            self._rows.lay(turns, within)
            if self._rows and self.many
            else self.board.lay(turns, within=within)
        )

    def _start(self, number: int, choice: tuple[int, ...] = ()) -> State:
        """Return the outlines of a choice of ways, the handiest if none is given, in a plain order."""
        order = ORDERS[number % len(ORDERS)]
        rule = number // len(ORDERS) % RULES
        choice = choice or (0,) * len(self.items)
        turns = [
            (i, Turn(unit, rule=rule))
            for i, (ways, way) in enumerate(zip(self.items, choice, strict=True))
            for unit in ways[way]
        ]
        turns.sort(key=lambda turn: order(turn[1].unit))
        return State(choice, tuple(turns))

    def _changed(self, state: State) -> State:
        turns = list(state.turns)
        count = len(turns)
        kind = self._random.random()
        at = self._random.randrange(count)
        item, turn = turns[at]
        if kind < 0.3 and count > 1:
            turns.insert(self._random.randrange(count), turns.pop(at))
        elif kind < 0.55 and count > 1:
            other = self._random.randrange(count)
            turns[at], turns[other] = turns[other], turns[at]
        elif kind < 0.75:
            lie = self._random.randrange(-1, len(turn.unit.lies))
            turns[at] = item, replace(turn, lie=lie)
        elif kind < 0.9 or len(self.items[item]) == 1:
            turns[at] = item, replace(turn, rule=self._random.randrange(RULES))
        else:
            return self._cut_otherwise(state, item)
        return State(state.ways, tuple(turns))

    def _cut_otherwise(self, state: State, item: int) -> State:
        way = self._random.randrange(len(self.items[item]))
        turns = [turn for turn in state.turns if turn[0] != item]
        for unit in self.items[item][way]:
            turns.insert(self._random.randrange(len(turns) + 1), (item, Turn(unit)))
        return State((*state.ways[:item], way, *state.ways[item + 1 :]), tuple(turns))

    def _shaken(self, state: State) -> State:
        for _ in range(self._random.randrange(3, 3 + 2 * len(state.turns))):
            state = self._changed(state)
        return state


def spots_in_order(layout: Layout) -> list[Spot]:
    """Return the spots of a layout from the start of the cloth on, the nearest to y = 0 first where equal."""
    return sorted(layout.spots, key=lambda spot: (spot.x, spot.y))
