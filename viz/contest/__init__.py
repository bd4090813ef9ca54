"""`contest`: its report, its words and its HTML pages."""
