/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The journal beside the file of a study: what was computed since the file was last rendered.
 *
 * A head (mark, length and CRC of the key, key), then records (head with its own CRC, payload with
 * its CRC). It only grows by whole records or is emptied: what a kill leaves behind the last whole
 * record is cut off. It is also what two writers of one file are kept apart by. */
#ifndef STUDY_STORE_JOURNAL_H
#define STUDY_STORE_JOURNAL_H

#include <stdint.h>
#include <sys/types.h>

#include "caber.h"

typedef struct store_journal {
    int fd;
    char *path; /* owned */
    off_t end;  /* behind the last whole record */
    off_t safe; /* up to here it has reached the disk */
    char *key;  /* of the study that it was found to be of; NULL = none; owned */
} store_journal;

/* One record that was found. */
typedef struct store_record {
    uint32_t chunk, size, crc;
    off_t at; /* of the payload */
} store_record;

/* Opens, or makes, and locks the journal of a file. Fails with CABER_BAD_INPUT when another process
 * has it or it is no journal, CABER_IO_ERROR or CABER_NO_MEMORY. Ends with store_journal_close. */
caber_status store_journal_open(const char *file, store_journal *journal, caber_message *message);
/* Finds the next record whose head is whole, from *at on (0 = the first); false behind the last
 * one, whose end is then that of the journal. */
bool store_journal_next(store_journal *journal, off_t *at, store_record *record);
/* Reads a payload. */
caber_status store_journal_fetch(store_journal *journal, const store_record *record, void *payload,
                                 caber_message *message);
/* Empties it, and begins it for the study of this key. */
caber_status store_journal_begin(store_journal *journal, const char *key, caber_message *message);
/* Appends one record, all of it or nothing; says where its payload is. */
caber_status store_journal_append(store_journal *journal, store_record *record, const void *payload,
                                  caber_message *message);
/* Removes the journal, still locked. */
caber_status store_journal_remove(store_journal *journal, caber_message *message);
void store_journal_close(store_journal *journal);

#endif
