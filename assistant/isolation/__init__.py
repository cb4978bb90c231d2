"""Fault isolation."""
