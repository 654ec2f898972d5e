"""The command line: a thin shell over the library, with the same verbs."""
