# Thin over dev.py, which Windows users call directly.
PYTHON ?= python3

.PHONY: run test setup lint proofs bench docs

run test setup lint proofs bench docs:
	@$(PYTHON) dev.py $@ $(ARGS)
