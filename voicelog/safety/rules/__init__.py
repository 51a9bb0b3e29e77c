"""The safety rules, by family; check.py runs them."""
