"""The job record: an append-only log in SQLite, its replay, what is learnt from it, and its exports."""
