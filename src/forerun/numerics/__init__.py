"""Numerical methods that know no chemistry: compiled kernels, roots, the stiff integrator."""
