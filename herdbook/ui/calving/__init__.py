"""The Calving page: who calves next, drawn on a ruler of days."""
