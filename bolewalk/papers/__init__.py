"""Documents, drawings and exchange files out."""
