"""Curves, tables and files that people look at."""
