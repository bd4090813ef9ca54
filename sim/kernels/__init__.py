"""How kernels are compiled, cubic tables, sine and arc tangent: numerics that know no car."""
