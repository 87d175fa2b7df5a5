"""After the run: what came over, where the rest is, what the glass did, shall it be done again."""
