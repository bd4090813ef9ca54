"""The replay: a run seen again in a window or a picture, and the steering bench.

Arrays come from `run_data`, `scene` says what to draw in metres, `view` puts metres on the screen, `pens` draw.
"""

import os

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")  # the library's greeting would stand in the midst of our output
