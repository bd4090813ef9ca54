"""`lesson`: lessons with this program's own figures, their pages for pupils and for the teacher."""
