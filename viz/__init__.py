"""What a person sees: terminal, window, page and paper. It imports `sim`, never the other way."""
