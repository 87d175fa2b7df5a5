"""Sourced constants of laboratory liquids, look-up, pure-component correlations."""
