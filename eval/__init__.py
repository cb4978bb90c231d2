"""The author's bench: question cases, measures, benchmarks and the fitting of weights."""
