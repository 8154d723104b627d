"""``python -m tests``: format, lint, types, import rules and all tests, the same for people and CI."""

import subprocess
import sys
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parent.parent
STEPS: Final = (
    ("format", ("-m", "ruff", "format", "--check", "--quiet", ".")),
    ("lint", ("-m", "ruff", "check", "--quiet", ".")),
    ("types", ("-m", "mypy")),
    ("import rules", ("-c", "import sys; from importlinter.cli import lint_imports_command as run; sys.argv = ['lint-imports']; run()")),
    ("tests", ("-m", "pytest", "-q", "-m", "not picture", "-n", "2", "--dist", "loadfile")),
)  # fmt: skip


def main() -> int:
    """Run every step and return how many failed."""
    failed = []
    for name, words in STEPS:
        print(f"== {name}", flush=True)
        if subprocess.run((sys.executable, *words), cwd=ROOT, check=False).returncode:
            failed.append(name)
    print(f"failed: {', '.join(failed)}" if failed else "everything passed")
    return len(failed)


if __name__ == "__main__":
    sys.exit(main())
