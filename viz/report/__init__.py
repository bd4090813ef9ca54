"""`report`: the page of a run for any browser, and the handout for a class."""
