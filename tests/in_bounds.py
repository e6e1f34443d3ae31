"""Runs cases where a reading process would read them: in a process of its own, under the product's own bounds."""

from __future__ import annotations

import subprocess
import sys

_RUN = """
import sys
module, function, *names = sys.argv[1:]
sys.path[:0] = {path!r}
import importlib
from counterfoil.sandbox import bounds
from counterfoil.settings import Limits

case = getattr(importlib.import_module(module), function)
bounds.bind(Limits())
for name in names:
    bounds.renew(Limits())
    case(name)
    print(name, flush=True)
"""


def done_in_bounds(module: str, function: str, names: list[str]) -> list[str]:
    """Run a function of a test module for each name, each with the memory and processor time one message may take.

    Args:
        module: the module's name.
        function: takes a name; what it asserts holds there.
        names: the cases.

    Returns:
        The names that were done, up to the one over which the process ended. What ended it stands on standard error.
    """
    command = [sys.executable, "-c", _RUN.format(path=sys.path), module, function, *names]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)
    return done.stdout.splitlines()
