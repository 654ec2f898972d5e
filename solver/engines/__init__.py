"""The engines, each in a module of its own; ``everyline.solver.contract.engine`` gives one by name."""
