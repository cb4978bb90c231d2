"""What a content author asks of the bench: why an entry wins, a new case."""
