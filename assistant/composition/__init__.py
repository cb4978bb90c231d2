"""Question and authored sentences -> Draft: which sentences answer, and in which order; nothing is written."""
