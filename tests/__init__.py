"""The suite: one folder for each package, `contract` for all engines, `outside` for published sources."""
