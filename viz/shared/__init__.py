"""Files, tables of words, figures, checks: what several commands show alike."""
