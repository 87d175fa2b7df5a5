"""What was measured and kept: files read in, an append-only store of runs, passports."""
