"""Search over all sensible plans of one bone: hard limits at once, survivors exactly; docs/search.md."""
