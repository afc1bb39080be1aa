# SPDX-License-Identifier: GPL-3.0-or-later
"""Which chunks a study's file and its journal have, found without the program."""
import struct
import zlib

import h5py
import numpy as np


def chunks_in_file(path):
    """The chunks that a file says are finished, each held against its seal by Python's CRC-32."""
    with h5py.File(path) as file:
        size, cases = int(file.attrs["chunk_cases"]), len(file["case"])
        seals, status = file["chunk_crc32"][()], file["status"][()]
        columns = [file[name][()] for name in (*file.attrs["factors"], *file.attrs["outputs"])]
        series = [file[name][()] for name in file.attrs.get("series", ())]
        reason = file["reason"][()]
    columns = [np.where(c == -1, np.nan, c).astype("<f8") if c.dtype.kind == "i" else c
               for c in columns]
    done = set()
    for chunk, seal in enumerate(seals):
        rows = slice(chunk * size, min(cases, (chunk + 1) * size))
        if status[rows.start] == -1:
            assert seal == 0 and (status[rows] == -1).all()
            continue
        data = b"".join(part[rows].tobytes() for part in (*columns, *series, status))
        if any(reason[rows]):
            data += b"".join(text.ljust(256, b"\0") for text in reason[rows])
        assert zlib.crc32(data) == seal, chunk
        done.add(chunk)
    return done


def chunks_in_journal(path):
    """The chunks of which the journal has a whole record, as store_journal.h describes it."""
    if not path.exists():
        return set()
    data = path.read_bytes()
    if len(data) < 16:
        return set()
    mark, size, crc = struct.unpack_from("<8sII", data)
    assert mark == b"CABERJ1\n"
    done, at = set(), 16 + size
    while at + 20 <= len(data):
        mark, chunk, size, crc, own = struct.unpack_from("<4sIIII", data, at)
        assert mark == b"CHNK" and own == zlib.crc32(data[at:at + 16])
        at += 20
        if at + size > len(data):
            break
        assert zlib.crc32(data[at:at + size]) == crc
        done.add(chunk)
        at += size
    return done
