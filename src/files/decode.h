/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A tree of nodes into a struct, through a field table. */
#ifndef FILES_DECODE_H
#define FILES_DECODE_H

#include "files/node.h"
#include "swing/fields_table.h"

typedef struct decoding {
    arena *a;
    const char *file; /* of the setup, as its nodes have it */
    field_path path;
    caber_message *message;
} decoding;

/* Given the path of a field in the setup and the node it was read from; returns the name to show:
 * the whole path for what stands in the setup, the path inside its own file for the rest. */
const char *decode_shown_path(const decoding *d, const node *where, const char *path);

/* Refuses keys that the group does not have, with a suggestion. */
caber_status decode_check_keys(decoding *d, const field_group *group, const node *n);

/* Reads `n` (NULL = nothing was given) into `object`, which holds zeros; `where` stands in
 * messages about what is missing. Lists and tables in the object are allocated with malloc and
 * remain in it on an error too. */
caber_status decode_group(decoding *d, const field_group *group, const node *n, const node *where,
                          void *object);

#endif
