/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The file of a study as a source of its chunks. */
#ifndef STUDY_STORE_READER_H
#define STUDY_STORE_READER_H

#include "study/store_chunk.h"

/* Whether a chunk is finished in the file. */
bool store_reader_has(const store_reader *reader, size_t chunk);
/* Reads a chunk and holds it against its seal. Fails with CABER_BAD_INPUT when it is not what was
 * written or cannot be read. `bytes` are of a study with the same columns, cases and chunks. */
caber_status store_reader_fetch(store_reader *reader, size_t chunk, store_bytes *bytes,
                                caber_message *message);

#endif
