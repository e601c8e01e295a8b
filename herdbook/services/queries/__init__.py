"""Questions to the book: functions of a connection and a day that return plain rows."""
