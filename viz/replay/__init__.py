"""The replay: a run seen again in a window or a picture, and the steering bench.

Arrays come from `run_data`, `scene` says what to draw in metres, `view` puts metres on the screen, `pens` draw.
"""
