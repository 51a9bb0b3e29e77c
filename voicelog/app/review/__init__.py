"""Correcting the log: what a reviewer sees, asks for and undoes."""
