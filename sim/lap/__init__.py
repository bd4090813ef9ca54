"""A lap in time: state, equations, integrator, ledger, trace, the rolling lap, the ladder of models."""
