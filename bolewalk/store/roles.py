"""What an account may be: read by the command line too, which loads no database for it."""

from typing import Literal, get_args

__all__ = ["ROLES", "Role"]

Role = Literal["read-only", "field", "estimator", "owner"]
ROLES: tuple[Role, ...] = get_args(Role)
"""The roles, each allowed all that the one before it is."""
