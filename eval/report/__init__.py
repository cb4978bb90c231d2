"""A run -> one page that the content author reads: figures, plots, every question, every entry."""
