"""``python -m tests.proof.write_table``: write the scenarios once, never over a kept table.

The table was written and committed before the reading met any of its sessions.
"""

from __future__ import annotations

import hashlib
import sys

from .scenarios import HASH, TABLE, written


def main() -> int:
    if TABLE.exists():
        print(f"{TABLE.name} is there already; it is not written over", file=sys.stderr)
        return 2
    data = written()
    TABLE.write_bytes(data)
    HASH.write_text(f"{hashlib.sha256(data).hexdigest()}  {TABLE.name}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
