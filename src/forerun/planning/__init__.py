"""Decisions with reasons: safety gates, method, pressure, glass, cuts, set-points."""
