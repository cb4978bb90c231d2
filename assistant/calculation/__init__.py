"""Figures with units -> a result with its rule, source, limit and verdict; one module a trade, tables and declarations as data."""
