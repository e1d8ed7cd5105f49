"""bolewalk: from a site walk and a plan to the papers of a consulting arborist."""

__version__ = "0.1.0"
