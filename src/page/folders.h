/* SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The two folders that the page may see: the models, which it reads, and one of the user's, where it keeps
 * setups as well. A file in them is named by its folder, its kind and its name, never by a path. */
#ifndef PAGE_FOLDERS_H
#define PAGE_FOLDERS_H

#include <jansson.h>

#include "files/source.h"

/* The words by which a request names them. */
enum { FOLDER_MODELS, FOLDER_USER, FOLDER_COUNT };
extern const char *const folder_names[FOLDER_COUNT];

typedef struct folders {
    char *path[FOLDER_COUNT]; /* real paths; NULL = there is none; owned */
    const char *fence_paths[FOLDER_COUNT];
    source_fence fence; /* both; of every file that is read for the page */
} folders;

/* Opens both; `user` may be NULL. Errors: CABER_IO_ERROR for one that is no folder. */
caber_status folders_open(const char *models, const char *user, folders *out,
                          caber_message *message);
void folders_close(folders *f);

/* Returns which folder a word names, -1 = none that there is. */
int folders_find(const folders *f, const char *word);
/* Whether a kind of file, "setup", has a place in the models. */
bool folders_has_kind(const char *kind);
/* Whether a text is a name of a file: ends in .yaml, no slash, no dot in front, no control characters, at most
 * 100 bytes of UTF-8. */
bool folders_is_name(const char *name);

/* Returns the path of a file by kind and name, to be freed with free(); NULL when out of memory. In the
 * user's folder all kinds lie side by side. */
char *folders_path(const folders *f, int folder, const char *kind, const char *name);

/* Takes the paths of the folders out of a message, which then names "models/..." and "user/...". */
void folders_shorten(const folders *f, caber_message *message);

/* Returns a list of the files in both, each {folder, kind, file, name, note} or, for one that cannot be read,
 * {folder, kind: null, file, problem}; NULL when out of memory. */
json_t *folders_list(const folders *f);

/* Reads the text of a file, to be freed with free(). */
caber_status folders_read(const folders *f, int folder, const char *kind, const char *name,
                          char **text, size_t *size, caber_message *message);

/* Puts a text under a name in the user's folder, in place of what stood there, at once and whole. *created
 * says that nothing did. Errors: CABER_IO_ERROR; CABER_BAD_INPUT when what stands there is no ordinary
 * file. */
caber_status folders_keep(const folders *f, const char *name, const char *text, size_t size,
                          bool *created, caber_message *message);

#endif
