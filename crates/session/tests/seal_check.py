"""Recomputes the seals of a session file from their description, with nothing but Python.

Usage: python3 seal_check.py FILE.prony
Prints the digest of the last block, or the number of the first bad block and exits with 1.
"""

import hashlib
import sqlite3
import struct
import sys

TABLES = {"a": "about", "s": "source", "p": "packet", "e": "event", "f": "file"}


def row_bytes(letter, columns):
    out = [letter.encode()]
    for value in columns:
        if value is None:
            out.append(b"n")
        elif isinstance(value, int):
            out.append(b"i" + struct.pack("<q", value))
        elif isinstance(value, str):
            content = value.encode()
            out.append(b"t" + struct.pack("<Q", len(content)) + content)
        else:
            out.append(b"b" + struct.pack("<Q", len(value)) + value)
    return b"".join(out)


def main(path):
    db = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    rows = {}
    for letter, table in TABLES.items():
        for row in db.execute(f"SELECT * FROM {table}"):
            rows[row[0]] = row_bytes(letter, row)
    previous, next_seq = "0" * 64, 1
    for seal in db.execute("SELECT * FROM seal ORDER BY block"):
        block, _, first, last, count, _, _, before, digest = seal
        sha = hashlib.sha256(previous.encode())
        for seq in range(first, last + 1):
            sha.update(rows.pop(seq, b""))
        sha.update(row_bytes("z", seal[:-1]))
        whole = first == next_seq and count == last - first + 1 and before == previous
        if not whole or sha.hexdigest() != digest:
            print(f"block {block} is bad")
            return 1
        previous, next_seq = digest, last + 1
    if rows:
        print(f"{len(rows)} rows are in no block")
        return 1
    print(previous)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
