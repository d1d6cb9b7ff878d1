"""An evening of several tables: the club, its desk, its results and their reviews."""
