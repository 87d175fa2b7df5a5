# Thin over dev.py, which Windows users call directly.
PYTHON ?= python3

.PHONY: run test setup lint proofs bench docs site

run test setup lint proofs bench docs site:
	@$(PYTHON) dev.py $@ $(ARGS)
