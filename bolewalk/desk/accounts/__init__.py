"""Who may use the desk: rules of the routes, sessions of browsers, tokens of forms."""
