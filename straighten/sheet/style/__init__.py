"""The style sheet of the printed pages, as a resource of the package."""
