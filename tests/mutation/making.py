"""The first step: mutmut writes ``mutants/``, a copy of the package with every change in it, each asleep."""

from __future__ import annotations

import os


def make(processes: int) -> None:
    """Write ``mutants/`` in the working folder."""
    from mutmut.mutation.trampoline import set_mutant_under_test

    set_mutant_under_test("mutant_generation")
    import mutmut.__main__ as mutmut

    mutmut.copy_src_dir()
    mutmut.copy_also_copy_files()
    mutmut.setup_source_paths()
    mutmut.store_lines_covered_by_tests()
    print(mutmut.create_mutants(processes), flush=True)


if __name__ == "__main__":
    make(os.cpu_count() or 1)
