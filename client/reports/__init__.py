"""Reviews, racks, histories and evenings as text, JSON, CSV, HTML and plots."""
