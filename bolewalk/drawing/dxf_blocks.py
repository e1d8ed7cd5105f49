"""Model space walked through, block references taken apart, each piece on the layer it shows on."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.lldxf.const import DXFError

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf_open import DAMAGE, DxfError, short
from bolewalk.drawing.settings import reading_settings

__all__ = ["Piece", "Walked", "walk_model_space"]


@dataclass(frozen=True, slots=True)
class Piece:
    """One entity on the layer it shows on. `handle` is its own, or its block reference's."""

    entity: DXFEntity
    layer: str
    handle: str

    @property
    def row(self) -> str:
        """How problems name it."""
        return f"{self.entity.dxftype()} {self.handle}"


@dataclass(slots=True)
class Walked:
    """A walk through model space: what is wrong goes to `place`, `counts` holds the number of
    entities by layer and type."""

    doc: Drawing
    place: Place
    point_layers: frozenset[str]
    counts: dict[str, Counter[str]] = field(default_factory=dict)
    _left: int = field(default_factory=lambda: reading_settings().entities)
    _told: set[str] = field(default_factory=set)

    def count(self, piece: Piece) -> Piece:
        """Count one entity."""
        self.spend()
        self.counts.setdefault(piece.layer, Counter())[piece.entity.dxftype()] += 1
        return piece

    def spend(self, number: int = 1) -> None:
        """Take entities off the limit."""
        self._left -= number
        if self._left < 0:
            limit = reading_settings().entities
            raise DxfError(
                f"at most {limit:,} entities once blocks are taken apart; the drawing is left out",
                "more",
            )

    def damaged(self, piece: Piece, error: Exception) -> None:
        """Tell of an entity whose numbers make nothing."""
        here = Place(self.place.file, piece.row, self.place.problems)
        here.tell(piece.layer, short(error), "a sound block reference; left out")

    def tell_once(self, name: str, value: str, expected: str) -> None:
        """Tell of a block once, however often it is inserted."""
        if value not in self._told:
            self._told.add(value)
            self.place.tell(name, value, expected, level="notice")


def walk_model_space(walked: Walked) -> Iterator[Piece]:
    """Give every entity of model space, block references taken apart.

    A block reference on one of `point_layers` (lower case) is given as it is: there it stands for
    its insertion point. What a block draws on layer 0 shows on the layer of its reference.

    Raises
    ------
    DxfError
        Blocks within blocks without end, or more entities than the limit.
    """
    yield from _pieces(walked.doc.modelspace(), None, None, 0, walked)


def _pieces(
    entities: Iterable[DXFEntity], layer: str | None, handle: str | None, depth: int, walked: Walked
) -> Iterator[Piece]:
    for entity in entities:
        own = _layer_of(entity)
        shows_on = layer if layer is not None and own == "0" else own
        known = handle or str(entity.dxf.handle or "?")
        piece = Piece(entity, shows_on, known)
        if entity.dxftype() != "INSERT" or shows_on.lower() in walked.point_layers:
            yield from _each_reference(piece, walked)
            continue
        yield from _taken_apart(piece, depth, walked)


def _layer_of(entity: DXFEntity) -> str:
    """Give the layer of any entity, of types the reader does not know as well."""
    try:
        return str(entity.dxf.get("layer", "0"))
    except DXFError:
        tags: Any = getattr(entity, "xtags", None)
        subclasses = [] if tags is None else tags.subclasses
        return next((str(t.value) for tags in subclasses for t in tags if t.code == 8), "0")


def _each_reference(piece: Piece, walked: Walked) -> Iterator[Piece]:
    """Give a reference inserted in rows and columns as one for each place."""
    if piece.entity.dxftype() != "INSERT":
        yield walked.count(piece)
        return
    for one in _places(piece, walked):
        yield walked.count(Piece(one, piece.layer, piece.handle))


def _places(piece: Piece, walked: Walked) -> list[Any]:
    insert: Any = piece.entity
    number = int(insert.mcount)
    walked.spend(max(1, number))
    try:
        return list(insert.multi_insert()) if number > 1 else [insert]
    except DAMAGE as e:
        walked.damaged(piece, e)
        return []


def _taken_apart(piece: Piece, depth: int, walked: Walked) -> Iterator[Piece]:
    limit = reading_settings().block_depth
    if depth >= limit:
        raise DxfError(
            f"blocks within blocks at most {limit} deep; the drawing is left out", "deeper ones"
        )
    insert: Any = piece.entity
    block = insert.block()
    name = str(insert.dxf.get("name", ""))
    if block is None:
        walked.tell_once("block", name, "a block that is in the file; its references are left out")
        return
    if block.block is not None and block.block.is_xref:
        walked.tell_once(
            "block", name, "the content of an outside reference bound into the file; left out"
        )
        return
    for reference in _places(piece, walked):
        try:
            inner = list(reference.virtual_entities())
        except DAMAGE as e:
            walked.damaged(piece, e)
            continue
        yield from _pieces(inner, piece.layer, piece.handle, depth + 1, walked)
