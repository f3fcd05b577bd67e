"""How sure the end of one bone plan is, and what is worth measuring again; docs/search.md."""
