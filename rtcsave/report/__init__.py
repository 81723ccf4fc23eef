"""Everything that is looked at and not read by a program: pictures, calendar files."""
