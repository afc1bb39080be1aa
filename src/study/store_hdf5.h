/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * What everything that writes or reads HDF5 here shares. */
#ifndef STUDY_STORE_HDF5_H
#define STUDY_STORE_HDF5_H

#include <hdf5.h>
#include <stdbool.h>
#include <stddef.h>

/* An HDF5 file under construction. After the first failure `ok` is false and nothing more is done,
 * so that the calls can be written one after the other. */
typedef struct store {
    bool ok;
    hid_t file;  /* not closed here */
    hid_t text;  /* variable-length UTF-8 */
    hid_t plain; /* creation properties without times */
} store;

/* Makes text and plain; ends with store_end. */
void store_begin(store *s);
void store_end(store *s);

/* Notes whether an HDF5 call worked; both ids and herr_t are negative when not. */
bool store_worked(store *s, long long result);

/* Puts an attribute of `type` on `at`; count 0 = a scalar. */
void store_attribute(store *s, hid_t at, const char *name, hid_t type, size_t count,
                     const void *value);
void store_text(store *s, hid_t at, const char *name, const char *value);
void store_number(store *s, hid_t at, const char *name, double value);

/* Keeps HDF5 from printing its own account of errors on standard error, until unhushed. */
typedef struct store_quiet {
    H5E_auto2_t print;
    void *data;
} store_quiet;
store_quiet store_hush(void);
void store_unhush(store_quiet quiet);

#endif
