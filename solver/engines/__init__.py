"""The engines, each in a module of its own; ``solver.contract.engine`` gives one by name."""
