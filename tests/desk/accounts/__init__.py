"""Who may do what at the desk."""
