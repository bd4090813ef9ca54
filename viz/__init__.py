"""What a person sees: terminal, page and paper. It imports `sim`, never the other way."""
