"""PDF: checklist, paper log sheet and reports, from plain data to bytes; no Django."""
