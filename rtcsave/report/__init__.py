"""Reports for people: pictures, calendar files."""
