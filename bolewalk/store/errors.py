"""What can go wrong with the store itself, told in words for the person at the desk."""

__all__ = ["StoreError"]


class StoreError(Exception):
    """The store cannot do what was asked; the text says why and what to do."""
