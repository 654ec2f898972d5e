"""Every way of asking about lines: count, number, sample, rank, explain, correct; three engines."""
