"""Whose tree it is, who must sign, and what is blocked until they have."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.model.words import Owner
from bolewalk.rules.line import LineStanding, stand_at_line
from bolewalk.rules.near import nearest
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import Act, Consent, Party, RuleTable

__all__ = ["Signer", "TreeConsent", "consent_for"]

_NEED_LEAVE: tuple[Act, ...] = ("remove", "prune", "roots")
_NEED_OWNER: tuple[Act, ...] = ("remove", "roots")
_SIGNERS: Mapping[Owner, tuple[Party, ...]] = {
    "shared": ("client", "neighbour"),
    "neighbour": ("neighbour",),
    "public": ("authority",),
}
_CUTS = (
    "trench", "excavation", "strip footing", "paving", "slab", "building", "drain", "utility",
    "wall",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Signer:
    """Somebody who must agree; `name` "" where only the part is known. `signed` holds the acts
    agreed to on record."""

    party: Party
    name: str = ""
    signed: tuple[Act, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeConsent:
    """Leave for one tree.

    `owner` is as recorded, or "shared" where the trunk stands on the line. `blocks` tells, act by
    act, what may not be done yet and why. `meanwhile` is what can be done and priced already.
    """

    tree: str
    owner: Owner
    line: LineStanding | None
    signers: tuple[Signer, ...]
    blocks: Mapping[Act, Statement] = field(default_factory=dict)
    says: tuple[Statement, ...] = ()
    meanwhile: tuple[Statement, ...] = ()


def consent_for(tree: Tree, survey: Survey, tables: Sequence[RuleTable]) -> TreeConsent:
    """Tell who must sign for a tree and what is blocked until then.

    Parameters
    ----------
    tree, survey
        Owner as recorded; a tree of one side whose trunk passes the line counts as shared,
        whatever the share; a public one needs the client too. An owner "unknown" blocks where it
        was written or others were recorded: a table that tells no owners at all is the client's
        word that they are the client's.
    tables : sequence of RuleTable
        Owners named in [[owner]] must all sign; without names, the parts of the owner do.
        Consents in [[consent]] count act by act.

    Returns
    -------
    TreeConsent
    """
    line = stand_at_line(tree, survey, tables)
    owner: Owner = tree.owner
    on_line = line is not None and line.on == "yes"
    if on_line and owner in ("client", "neighbour", "unknown"):
        owner = "shared"
    named = [o for t in tables for o in t.owners if tree.id in o.trees]
    given = [c for t in tables for c in t.consents if c.tree == tree.id]
    if named:
        signers = tuple(_signer(o.party, o.name, given) for o in named)
    else:
        parties = _SIGNERS.get(owner, ())
        if on_line and owner == "public":
            parties = ("client", *parties)
        signers = tuple(_signer(p, "", given) for p in parties)
    blocks: dict[Act, Statement] = {}
    for act in _NEED_LEAVE:
        missing = sum(act not in s.signed for s in signers)
        if missing:
            blocks[act] = say(f"consent.blocked_{act}", tree=tree.id, missing_count=missing)
    doubt = not signers and owner == "unknown" and _owners_told(tree, survey)
    if doubt:
        blocks |= {act: say(f"consent.owner_first_{act}", tree=tree.id) for act in _NEED_OWNER}
    says = [*(() if line is None else line.says), *_owner_says(tree, owner, line, doubt)]
    says += [_signer_says(tree, s) for s in signers]
    says += _roots_near(tree, survey, line, blocks)
    return TreeConsent(
        tree.id, owner, line, signers, blocks, tuple(says), _meanwhile(tree, line, blocks)
    )


def _signer(party: Party, name: str, given: Sequence[Consent]) -> Signer:
    acts: dict[Act, None] = {}
    for c in given:
        if (c.by.casefold() == name.casefold()) if name else (c.party == party):
            acts.update(dict.fromkeys(c.acts))
    return Signer(party, name, tuple(acts))


def _owners_told(tree: Tree, survey: Survey) -> bool:
    written = tree.entered.get("owner", "").strip() != ""
    return written or any(t.owner != "unknown" for t in survey.trees)


def _owner_says(
    tree: Tree, owner: Owner, line: LineStanding | None, doubt: bool
) -> list[Statement]:
    if line is not None and line.on == "yes" and owner == "shared":
        return [say("consent.owner_line", tree=tree.id)]
    if owner in _SIGNERS:
        return [say(f"consent.owner_{owner}", tree=tree.id)]
    return [say("consent.owner_unknown", tree=tree.id)] if doubt else []


def _signer_says(tree: Tree, s: Signer) -> Statement:
    state = "signed" if set(_NEED_LEAVE) <= set(s.signed) else ("part" if s.signed else "open")
    if s.name:
        return say(f"consent.named_{state}", tree=tree.id, name=s.name, party=s.party)
    return say(f"consent.party_{state}", tree=tree.id, party=s.party)


def _roots_near(
    tree: Tree, survey: Survey, line: LineStanding | None, blocks: Mapping[Act, Statement]
) -> list[Statement]:
    """Tell of works whose cut would pass through the roots that hold the tree."""
    if "roots" not in blocks or line is None:
        return []
    found = nearest(tree, survey.works, _CUTS)
    times = packaged("settings.toml")["boundary"]["root_cut_times"]
    if found is None or found[1] / (line.trunk_cm / 100) >= times:
        return []
    work, away = found
    return [
        say(
            "consent.root_cut_near", tree=tree.id, work=work.label or work.id, distance_m=away,
            trunks=round(away / (line.trunk_cm / 100), 1), least=float(times),
        )
    ]  # fmt: skip


def _meanwhile(
    tree: Tree, line: LineStanding | None, blocks: Mapping[Act, Statement]
) -> tuple[Statement, ...]:
    if not blocks:
        return ()
    made = [say("consent.meanwhile_look", tree=tree.id)]
    if line is not None and not line.surveyed:
        made.append(say("consent.meanwhile_survey"))
    known = any(why.code.startswith("consent.blocked") for why in blocks.values())
    made.append(say(f"consent.meanwhile_{'letter' if known else 'ask'}", tree=tree.id))
    made.append(say("consent.meanwhile_no_cut", tree=tree.id))
    return tuple(made)
