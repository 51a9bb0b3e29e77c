"""How the log's database came to its shape, one numbered step after another."""
