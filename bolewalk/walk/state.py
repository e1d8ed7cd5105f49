"""What is known while a walk is read."""

from dataclasses import dataclass, field

from bolewalk.reference.plants import Region
from bolewalk.walk.entities import Named, TreeFound
from bolewalk.walk.measures import System
from bolewalk.walk.names import NameFound
from bolewalk.walk.sentences import Moment, Sentence

__all__ = ["Planting", "Reading", "Walk"]


@dataclass(slots=True)
class Planting:
    """A plant to be planted, with every moment it was spoken of."""

    named: Named
    moments: list[Moment]


@dataclass(slots=True)
class Reading:
    """Everything the walk was found to say of trees and plantings.

    `topic` gives for each sentence the trees it speaks of; `money` the sentences that price.
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


@dataclass(slots=True)
class Walk:
    """The state carried from one sentence to the next.

    `focus` is the tree last spoken of; `money` and `planting` run down from 3 after a sentence on
    the subject; `retracted` is the sentence in which something was last taken back; `one_apart`
    the one in which one of a group was singled out, `beyond` that it was none of those counted;
    `refused` the plants not to be planted, by the sentence that said so.
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
    one_apart: int = -9
    refused: dict[str, int] = field(default_factory=dict)
    beyond: bool = False
