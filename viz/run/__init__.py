"""`run`: its report, its plots, the files of the run folder."""
