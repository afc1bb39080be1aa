/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A tree of nodes into a struct, through a field table. */
#ifndef FILES_DECODE_H
#define FILES_DECODE_H

#include "files/node.h"
#include "files/source.h"
#include "swing/fields_table.h"

typedef struct decoding {
    arena *a;
    const char *file; /* of the setup, as its nodes have it */
    field_path path;
    const source_fence *fence; /* where files may be; NULL = anywhere */
    caber_message *message;
} decoding;

/* Given the path of a field in the setup and the node it was read from; returns the name to show:
 * the whole path for what stands in the setup, the path inside its own file for the rest. */
const char *decode_shown_path(const decoding *d, const node *where, const char *path);

/* Fails at a node, naming the field at hand. */
#define DECODE_FAIL(d, where, ...)                                                                 \
    node_error((where), decode_shown_path((d), (where), (d)->path.text), (d)->message, __VA_ARGS__)

/* Refuses the root of a file that is not a mapping with this `kind`. */
caber_status decode_check_kind(const node *root, const char *kind, caber_message *message);

/* Refuses keys that the group does not have, with a suggestion. */
caber_status decode_check_keys(decoding *d, const field_group *group, const node *n);

/* Reads `n` (NULL = nothing was given) into `object`, which holds zeros; `where` stands in
 * messages about what is missing. Lists, tables, rows and errors in the object are allocated with
 * malloc and remain in it on an error too. */
caber_status decode_group(decoding *d, const field_group *group, const node *n, const node *where,
                          void *object);

/* Reads a list of quantities into `out`, which has room for its entries. */
caber_status decode_numbers(decoding *d, const node *n, dimension dim, double *out);

/* Reads the CSV file that a scalar names, with the columns and the number of rows that the field
 * has; `also` says what else than a path may stand there. */
caber_status decode_csv(decoding *d, const field *f, const node *n, const char *also,
                        field_rows *out);

#endif
