"""Paper: staff, tablature, engraved pictures and printed sheets of annotated lines."""
