"""Run every benchmark: `python -m benchmarks`."""

from __future__ import annotations

import importlib
import pkgutil

import benchmarks


def main() -> None:
    """Run all bench_* modules in order of name."""
    for module in sorted(m.name for m in pkgutil.iter_modules(benchmarks.__path__)):
        if module.startswith("bench_"):
            print(f"== {module.removeprefix('bench_')}")
            importlib.import_module(f"benchmarks.{module}").main()


if __name__ == "__main__":
    main()
