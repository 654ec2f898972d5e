"""Lines as text: drawn for the music stand, and as rows of data."""
