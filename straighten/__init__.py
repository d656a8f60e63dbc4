"""Plan the straightening of a bowed aluminium overhead-cam cylinder head, pass by pass."""

__version__ = "0.1.0"
