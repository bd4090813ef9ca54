"""`words`: the glossary's data, what it prints, and its page with drawings."""
