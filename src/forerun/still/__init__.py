"""The dynamic model of one run: balances, events and the trace that it returns."""
