"""The page and its interface: a small server on this machine, for this machine alone."""
