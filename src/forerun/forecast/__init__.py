"""What is not known, carried through the still: ensembles and bands."""
