"""What is known while a walk is read."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from bolewalk.reference.plants import Region
from bolewalk.walk.entities import Named, SizeOf, TreeFound
from bolewalk.walk.measures import System
from bolewalk.walk.mentions import Mention
from bolewalk.walk.names import NameFound
from bolewalk.walk.sentences import Moment, Sentence

__all__ = ["Planting", "Reading", "Walk"]


@dataclass(slots=True, eq=False)
class Planting:
    """A plant to be planted, with every moment it was spoken of.

    `key` is its name as heard, `sentence` where it was proposed, `alternatives` the plants
    proposed before it of which it may take the place ("or a lime").
    """

    named: Named
    moments: list[Moment]
    key: str = ""
    sentence: int = -9
    alternatives: "list[Planting]" = field(default_factory=list)


@dataclass(slots=True)
class Reading:
    """Everything the walk was found to say of trees and plantings.

    `points` tells how much speaks for each region; `topic` gives for each sentence the trees it
    speaks of; `money` the sentences that price.
    """

    region: Region | None
    system: System | None
    speakers: set[str]
    trees: list[TreeFound] = field(default_factory=list)
    plantings: list[Planting] = field(default_factory=list)
    unplaced: list[tuple[Named, Moment, str]] = field(default_factory=list)
    topic: dict[int, list[TreeFound]] = field(default_factory=dict)
    money: set[int] = field(default_factory=set)
    planting: set[int] = field(default_factory=set)
    recap_from: int | None = None
    points: Mapping[Region, float] = field(default_factory=dict)


@dataclass(slots=True)
class Share:
    """Some trees of a group, with the words that told them; `tree` once entered by itself.

    `fine` marks that they were said to be sound, `beyond` that they stand beside the group.
    """

    count: int
    near: set[str]
    tree: TreeFound | None = None
    beyond: bool = False
    fine: bool = False


@dataclass(slots=True)
class Group:
    """A group of trees of which parts are spoken of, `total` as first counted."""

    root: TreeFound
    total: int
    last: int
    shares: list[Share] = field(default_factory=list)
    current: Share | None = None

    def rest(self, n: int) -> Share | None:
        """Give what is left beside the parts named; n = 0 where no number was said.

        With no part named yet, "the other three" of five makes the two that were meant before.
        """
        taken = sum(x.count for x in self.shares)
        if not self.shares and 0 < n < self.total:
            self.shares.append(Share(self.total - n, set()))
        elif not self.shares and not n and self.total == 2:
            self.shares.append(Share(1, set()))
        elif n and self.shares and n != self.total - taken:
            same = [x for x in self.shares if x.count == n and x is not self.current]
            return same[0] if same else None
        return None


@dataclass(slots=True)
class Walk:
    """The state carried from one sentence to the next.

    `focus` is the tree last spoken of; `money` and `planting` run down from 3 after a sentence on
    the subject; `retracted` is the sentence in which something was last taken back; `group` the
    group parts of which are spoken of; `refused` the plants not to be planted, by the sentence
    that said so; `numbered` the sentences that call out a tree's number, `called` the one called
    last; `held` sizes said of a tree not named yet; `corrected` the sentence
    that takes something back of a tree called by its number, and the tree; `offered` the sentence
    in which somebody else names a tree, which counts once the one who judges speaks of it.
    """

    out: Reading
    sentences: tuple[Sentence, ...]
    named: dict[int, list[NameFound]]
    focus: TreeFound | None = None
    recap: bool = False
    money: int = 0
    planting: int = 0
    planned: Planting | None = None
    retracted: int = -9
    retracted_before: int = -9
    refused: dict[str, int] = field(default_factory=dict)
    group: Group | None = None
    numbered: dict[int, tuple[int, ...]] = field(default_factory=dict)
    called: tuple[int, ...] = ()
    held: list[SizeOf] = field(default_factory=list)
    held_at: int = -9
    corrected: tuple[int, TreeFound] | None = None
    offered: tuple[int, Mention] | None = None
