"""Signs for terminals that lack them: in a code page of Windows each becomes one that can be read, never an exception."""

import codecs
from typing import TextIO
from unicodedata import combining, normalize

READABLE = "readable"  # name of the rule, for a stream's `errors`
_IN_PLACE = {
    "−": "-", "–": "-", "—": "-", "‐": "-", "─": "-", "━": "-", "│": "|", "┃": "|", "╭": "+", "╮": "+", "╰": "+", "╯": "+", "┌": "+",
    "┐": "+", "└": "+", "┘": "+", "├": "+", "┤": "+", "┼": "+", "“": '"', "”": '"', "„": '"', "«": '"', "»": '"', "‘": "'", "’": "'",
    "‚": "'", "·": "*", "•": "*", "×": "x", "÷": "/", "±": "+-", "°": " deg", "→": "->", "←": "<-", "↔": "<->", "↑": "^", "↓": "v",
    "≤": "<=", "≥": ">=", "≈": "~", "≠": "!=", "∞": "inf", "√": "sqrt", "ß": "ss", "Þ": "Th",
    "ø": "o", "Ø": "O", "ł": "l", "æ": "ae", "œ": "oe",
    "α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "Δ": "Delta", "κ": "kappa", "μ": "mu", "µ": "u", "ω": "omega", "Ω": "ohm",
    "φ": "phi", "ψ": "psi", "π": "pi", "ρ": "rho", "σ": "sigma", "τ": "tau", "θ": "theta", "λ": "lambda", "χ": "chi", "…": "...",
    "€": "EUR",
}  # fmt: skip


def readable(text: str) -> str:
    """A text in signs that every terminal has; what has no reading in them is a question mark.  text : any."""
    return "".join(sign if sign.isascii() else _IN_PLACE.get(sign) or _bare(sign) for sign in text)


def _bare(sign: str) -> str:
    """A letter without its accent, a small figure as a usual one."""
    plain = "".join(one for one in normalize("NFKD", sign) if not combining(one))
    return plain if plain.isascii() and plain else "" if combining(sign) else "?"


def _replaced(fault: UnicodeError) -> tuple[str, int]:
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return readable(fault.object[fault.start : fault.end]), fault.end


codecs.register_error(READABLE, _replaced)


def show_readably(stream: TextIO) -> None:
    """Let a stream show in readable signs what its encoding lacks.  stream : standard output or error."""
    if hasattr(stream, "reconfigure"):
        stream.reconfigure(errors=READABLE)
