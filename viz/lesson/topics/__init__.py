"""What each lesson shows: its figures and the words that follow from them, a file a lesson."""
