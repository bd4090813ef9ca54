"""The course: a centreline with curvature and slope by station, read from a file or written as segments."""

from sim.course.centreline import Course
from sim.course.reading import read_course
from sim.course.segments import Arc, Clothoid, Straight, course_from_segments

__all__ = ["Arc", "Clothoid", "Course", "Straight", "course_from_segments", "read_course"]
