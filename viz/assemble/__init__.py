"""`assemble`: order of work, drawings, sheets and report."""
