"""How fast it is: measured side by side, told as ratios, written to docs/benchmarks.md."""
