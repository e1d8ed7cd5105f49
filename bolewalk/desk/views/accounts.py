"""The pages of accounts: signing in, one's own, those of a firm."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.store.accounts import Account
from bolewalk.store.roles import ROLES

__all__ = ["ROLE_WORDS", "AccountsView", "OwnView", "SignInView", "accounts_view", "wait_words"]

ROLE_WORDS = {
    "read-only": "looks at everything, changes nothing",
    "field": "trees, the walk, answers, photographs",
    "estimator": "also works, papers, issues, links for clients, new surveys",
    "owner": "also the accounts of the firm",
}
"""What each role may do, in words."""


@dataclass(frozen=True, slots=True)
class SignInView:
    """The page to sign in; `back` is where to go then."""

    back: str
    name: str
    say: str


@dataclass(frozen=True, slots=True)
class OwnView:
    """One's own account."""

    name: str
    role: str
    may: str
    owner: bool
    says: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AccountRow:
    """One account in the list of a firm's; `own` is the reader's own."""

    id: int
    name: str
    firm: str
    role: str
    since: str
    disabled: str
    own: bool


@dataclass(frozen=True, slots=True)
class AccountsView:
    """The accounts of a firm; of all firms for whoever sits at this computer, with `firms`."""

    rows: tuple[AccountRow, ...]
    roles: tuple[tuple[str, str], ...]
    firms: bool
    says: tuple[str, ...]


def accounts_view(
    accounts: Sequence[Account], *, reader: Account | None, says: Sequence[str] = ()
) -> AccountsView:
    """Give the list of accounts."""
    rows = tuple(
        AccountRow(
            a.id, a.name, a.firm, a.role, a.created_at[:10], (a.disabled_at or "")[:10],
            reader is not None and a.id == reader.id,
        )
        for a in accounts
    )  # fmt: skip
    roles = tuple((r, ROLE_WORDS[r]) for r in ROLES)
    return AccountsView(rows, roles, reader is None, tuple(says))


def wait_words(seconds: int) -> str:
    """Say how long to wait after too many tries."""
    minutes = -(-seconds // 60)
    return f"Too many tries. Wait {minutes} {'minute' if minutes == 1 else 'minutes'}."
