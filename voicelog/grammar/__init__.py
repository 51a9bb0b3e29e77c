"""What may be said and what it means: one grammar for every listener and every reader."""
