"""Room `course`: what happens after the operation: prescription, day-by-day schedule, visits, healing."""
