"""Revisions of the database, run by `store.revision`."""
