"""Room `store`: an edge. Cases as versioned documents, films by content, the practice's own documents, users.

One SQLite file with the films beside it, or a PostgreSQL database by URL. `open_store` is the way in. The
libraries for the database are imported when a store is opened, so that importing this room costs nothing.
"""
