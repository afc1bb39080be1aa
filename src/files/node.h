/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A YAML document as a tree that remembers where everything stands. Anchors, aliases, tags,
 * several documents and repeated keys are errors. The one file that knows libyaml is node.c. */
#ifndef FILES_NODE_H
#define FILES_NODE_H

#include <stddef.h>

#include "caber.h"
#include "files/arena.h"

/* Limits that keep hostile input from taking time or memory. */
enum {
    NODE_MOST_BYTES = 4 << 20, /* of a file */
    NODE_MOST = 250000,        /* nodes in a file */
    NODE_MOST_DEPTH = 32,
    NODE_MOST_KEYS = 200 /* in one mapping */
};

typedef enum node_type { NODE_SCALAR, NODE_SEQUENCE, NODE_MAPPING } node_type;

typedef struct node node;

/* All of it belongs to the arena. */
struct node {
    node_type type;
    const char *file;    /* as it stands in messages */
    size_t line, column; /* from 1; line 0 = not from a file */
    const char *text;    /* of a scalar; never NULL for one */
    const char *key;     /* of an entry of a mapping, else NULL */
    size_t key_line, key_column;
    node **items; /* of a sequence or mapping, in the order of the file */
    size_t count, capacity;
};

/* Refuses text that is not UTF-8, with its place. */
caber_status node_check_utf8(const char *file, const char *text, size_t size,
                             caber_message *message);
/* The same, and too much of it. */
caber_status node_check_bytes(const char *file, const char *text, size_t size,
                              caber_message *message);

/* Given the name for messages and `size` bytes of YAML; returns the root in *out.
 * Errors: CABER_BAD_INPUT with "file:line:column: what is wrong". */
caber_status node_parse(arena *a, const char *file, const char *text, size_t size, node **out,
                        caber_message *message);

/* Returns the entry of a mapping with this key, or NULL (also when n is NULL or no mapping). */
node *node_get(const node *n, const char *key);
/* Takes the entry out of a mapping and returns it, or NULL. */
node *node_take(node *n, const char *key);
/* Puts value under key, in place of what stood there. CABER_NO_MEMORY when it cannot. */
caber_status node_put(arena *a, node *mapping, const char *key, node *value);

/* Lays `over` on `base`, both mappings, changing base: a key of `over` replaces the one of base,
 * or is merged with it when both are mappings. Sequences replace. */
caber_status node_merge(arena *a, node *base, node *over);

/* Given a root mapping, a path such as "a.b[0].c" and a text; sets that value, making mappings and
 * lists on the way where nothing stands. An index may be at most the number of entries, which
 * appends. New nodes have the file `origin` and line 0. */
caber_status node_set_path(arena *a, node *root, const char *path, const char *text,
                           const char *origin, caber_message *message);

/* Returns the node at the path, or the last one on the way that exists. */
const node *node_find(const node *root, const char *path);

/* Writes "file:line:column: field: problem" (without what is not known) and returns
 * CABER_BAD_INPUT. field may be "". */
caber_status node_error(const node *where, const char *field, caber_message *message,
                        const char *format, ...) __attribute__((format(printf, 4, 5)));

#endif
