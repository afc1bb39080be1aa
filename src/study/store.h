/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Numbers as HDF5 that h5py, xarray and h5dump read without help. The only part that knows HDF5.
 *
 * A file is made in memory and handed over as bytes, so that whoever writes it to disk sees every
 * failed write as such. Nothing in it depends on clock or host: the same swing gives the same
 * bytes. Every dimension of every dataset has a dimension scale; every dataset has `units` and
 * `long_name`; texts are variable-length UTF-8. */
#ifndef STUDY_STORE_H
#define STUDY_STORE_H

#include "caber.h"

/* What made the numbers; becomes attributes of the root. All texts UTF-8, not owned. */
typedef struct store_origin {
    const char *title;
    const char *setup_text;       /* the setup file, verbatim */
    const char *model_text;       /* the whole setup as one file, overrides applied */
    const char *const *overrides; /* "path=value", in order */
    size_t override_count;
    const caber_settings *settings;
} store_origin;

/* Given a trace and where it came from; returns the bytes of an HDF5 file, to be freed with
 * free(). Fails with CABER_BAD_INPUT when the trace has no rows, CABER_NO_MEMORY, or
 * CABER_INTERNAL when HDF5 refuses. */
caber_status store_series(const caber_trace *trace, const store_origin *origin, void **bytes,
                          size_t *size, caber_message *message);

#endif
