"""Reading in processes of their own: a file that crashes, stalls or swells ends a process, never the run."""

from counterfoil.sandbox.reader import Reader

__all__ = ["Reader"]
