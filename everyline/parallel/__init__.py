"""Sets of lines too big for one file or one machine: Parquet in parts, on one machine or many."""
