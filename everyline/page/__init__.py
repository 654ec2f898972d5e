"""The page: a local server that gives the whole job to a browser, over a documented JSON interface."""
